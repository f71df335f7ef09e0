"""The window as a program that runs one power-up, on a bench that lives apart: made to be killed.

It is driven by keys. Prints who its recorder is, then everything it hears, one JSON object a line.
"""

import argparse
import json
import sys
from pathlib import Path

from driven import Driven, offer_of
from PySide6.QtCore import Qt

from benchlog.commands.simulated import Hands
from benchlog.commands.terminal import say, show_json
from benchlog.window.run_view import Phase

LISTENER = Path(__file__).with_name("listener.py")


def run(args: argparse.Namespace) -> int:
    """Take the plan up by keys, to its end."""
    player = [sys.executable, "-I", "-S", str(LISTENER), str(args.heard), args.control]
    offer = offer_of(args.example, args.bench.read_text(encoding="utf-8"))
    driven = Driven(args.library, offer, Hands(args.control), rate=args.speed, player=player)
    driven.program.link.heard.connect(show_json)
    say(json.dumps({"is": "driver", "recorder": driven.program.link.pid}))
    driven.key(Qt.Key.Key_F5)
    driven.phase(Phase.CHECKED)
    enter = Qt.Key.Key_Enter
    driven.leave(Phase.CHECKED, enter)
    driven.obey_until(lambda: driven.view.phase is Phase.PROVEN, "the proof")
    driven.leave(Phase.PROVEN, enter)
    driven.climb(lambda: driven.view.phase in (Phase.OFF, Phase.CLOSED))
    driven.phase(Phase.CLOSED)
    driven.close()
    return 0


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser()
    for name, kind in (("example", str), ("control", str), ("speed", float)):
        parser.add_argument(f"--{name}", type=kind, required=True)
    for name in ("bench", "library", "heard"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    return run(parser.parse_args())


if __name__ == "__main__":
    sys.exit(main())
