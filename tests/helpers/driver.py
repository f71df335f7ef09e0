"""A program that runs one power-up as a command does, on a bench that lives apart: made to be killed.

Prints who its recorder is, then everything it hears, one JSON object a line.
"""

import argparse
import json
import sys
from pathlib import Path

from benchlog import resources, textfile
from benchlog.commands.account import account, only_by_hand, status
from benchlog.commands.bench_and_visit import open_bench
from benchlog.commands.conduct import Conductor, Ear
from benchlog.commands.simulated import Hands
from benchlog.commands.terminal import say, show_json
from benchlog.domain.cold_checks import told
from benchlog.domain.plan import Plan
from benchlog.errors import BenchlogError
from benchlog.instruments import bench as benches
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store.library import Library

LISTENER = Path(__file__).with_name("listener.py")


def run(args: argparse.Namespace) -> int:
    """Prove, arm, climb; the exit status of a power-up."""
    ear = Ear(show_json)
    player = [sys.executable, "-I", "-S", str(LISTENER), str(args.heard), args.control]
    bench = args.bench.read_text(encoding="utf-8")
    plan = resources.path("examples", args.example, "plan.toml").read_text(encoding="utf-8")
    with (
        Library.open(args.library) as library,
        Recorder.start(on_message=ear.hear, player=player) as recorder,
    ):
        say(json.dumps({"is": "driver", "recorder": recorder.pid}))
        open_bench(recorder, bench, "bench.toml", [], args.speed)
        recorder.request(messages.LoadPlan(id=0, text=plan, place="plan.toml"))
        course = Conductor(recorder, ear, Hands(args.control)).run(
            str(library.sessions),
            cold=[told(check, yes=True) for check in textfile.parse(plan, "plan.toml", Plan).cold_checks],
        )
    found = account(course, by_hand=only_by_hand(benches.parse(bench, "bench.toml")))
    say(json.dumps({"is": "summary", **found}))
    return status(found)


def main() -> int:
    """Run it; 2 with a sentence where it could not go on."""
    parser = argparse.ArgumentParser()
    for name, kind in (("example", str), ("control", str), ("speed", float)):
        parser.add_argument(f"--{name}", type=kind, required=True)
    for name in ("bench", "library", "heard"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    try:
        return run(parser.parse_args())
    except BenchlogError as error:
        print(error, file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
