"""A window that redraws a live graph of six traces all the time: `python -m measure.redrawing`.

With a far end it owns a recorder and draws what that publishes, and says each time the run was armed again;
`--alone` it draws as much of its own, as the load beside a bare rival.
"""

import argparse
import json
import os
import sys
import threading
import time
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QApplication

from benchlog.domain.plan import Plan
from benchlog.recorder import messages
from benchlog.textfile import parse
from benchlog.window.graph import RunGraph
from benchlog.window.graph_scene import scene_of
from benchlog.window.look import Look
from measure.live import Live, bench_text, plan_text
from measure.processes import command

SIZE = (1600, 900)
EVERY = 40
"""Milliseconds between two pictures: 25 a second, as fast as a window ever draws."""
TRACES = 6


class Hearing(QObject):
    """Brings what the recorder publishes to the GUI thread."""

    heard = Signal(object)


class Drawn(Live):
    """A live run whose every message is drawn as well."""

    def __init__(self, hearing: Hearing, *given: Any, **named: Any) -> None:
        self._hearing = hearing
        super().__init__(*given, **named)

    def _hear(self, message: messages.Message) -> None:
        super()._hear(message)
        self._hearing.heard.emit(message)


class Window(RunGraph):
    """A graph as large as a screen that is drawn anew at every turn."""

    def __init__(self, application: QApplication) -> None:
        super().__init__(Look(application, "light"))
        self.resize(*SIZE)
        self.show_scene(scene_of(parse(plan_text(TRACES, "supply"), "plan", Plan)))
        self.follow(True)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._draw)
        self._timer.start(EVERY)
        self.show()

    def hear(self, message: messages.Message) -> None:
        """Take readings in; tell the parent of a run that is armed again."""
        if isinstance(message, messages.Readings):
            for batch in message.batches:
                for _, t, value, _ in batch.rows:
                    self.append(batch.trace, t / 1e9, value)
        elif isinstance(message, messages.Event) and message.kind == "armed again":
            print(json.dumps({"again": True}), flush=True)

    def draw_of_its_own(self) -> None:
        """Six traces at the rate of six meters."""
        begun = time.monotonic()
        feed = QTimer(self)

        def add() -> None:
            t = time.monotonic() - begun
            for n in range(TRACES):
                for k in range(25):
                    self.append(f"meter {n}", t + k * 2e-3, 1.0 + 0.01 * (k % 5))

        feed.timeout.connect(add)
        feed.start(50)

    def _draw(self) -> None:
        self.touch()
        self.redraw()


def main() -> int:
    """Draw until the end of standard input, or until killed."""
    parser = argparse.ArgumentParser(prog="python -m measure.redrawing")
    parser.add_argument("far_end", nargs="?", default="", help="JSON: meters, supply, relay")
    parser.add_argument("folder", nargs="?", type=Path, default=Path())
    parser.add_argument("--alone", action="store_true")
    parser.add_argument("--again", action="store_true", help="arm again after each trip")
    args = parser.parse_args()
    application = QApplication(["redrawing"])
    window = Window(application)
    live: list[Drawn] = []
    if args.alone:
        window.draw_of_its_own()
        QTimer.singleShot(1000, lambda: print(json.dumps({"ready": True}), flush=True))
    else:
        far: dict[str, Any] = json.loads(args.far_end)
        bench = bench_text(far["meters"], "supply", supply=far["supply"], relay=far["relay"])
        hearing = Hearing()
        hearing.heard.connect(window.hear)

        def begin() -> None:
            argv = command("measure.guarded") if args.again else None
            tail = 600.0 if args.again else 0.0
            live.append(
                Drawn(hearing, "supply", bench, plan_text(TRACES, "supply", tail), args.folder, argv=argv)
            )
            print(json.dumps({"recorder": live[0].recorder.pid}), flush=True)

        threading.Thread(target=begin, daemon=True).start()
    threading.Thread(target=_wait_for_end, args=(application,), daemon=True).start()
    application.exec()
    for one in live:
        one.close()
    return 0


def _wait_for_end(application: QApplication) -> None:
    while os.read(0, 4096):
        pass
    application.quit()


if __name__ == "__main__":
    sys.exit(main())
