"""A Parts page that is taken hands-free, in a process of its own: when each tone was asked for, the next part at hand.

`python -m measure.hands_taking ADDRESS FOLDER COUNT` prints one JSON list of monotonic ns.
"""

import json
import os
import sys
import time
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QWidget

from benchlog.domain.unit import Unit, UnitFile, Visit
from benchlog.instruments import bench as benches
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.textfile import parse
from benchlog.window.keys import Action, Keys
from benchlog.window.link import Link
from benchlog.window.look import Look
from benchlog.window.parts_page import PartsPage
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work
from measure import parts_bench


class Ear:
    """Hears nothing but results, each with its time."""

    def __init__(self, count: int, enough: "QTimer") -> None:
        self.times: list[int] = []
        self._count = count
        self._enough = enough

    def result(self, *_: object) -> None:
        """A tone, and the next designator."""
        self.times.append(time.monotonic_ns())
        if len(self.times) == self._count:
            self._enough.start()

    def __getattr__(self, _: str) -> object:
        return lambda *_: None


def main() -> int:
    """Take so many parts."""
    address, folder, count = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    application = QApplication([])
    link, shelf = Link(), Shelf(folder)
    work = Work(Look(application, "light"), Keys(), Runner(link), shelf)
    enough = QTimer(singleShot=True)
    enough.timeout.connect(link.close)
    link.closed.connect(application.quit)
    ear = Ear(count, enough)
    work.voice = ear  # type: ignore[assignment]  # it answers to everything
    page = PartsPage(work)
    host = QWidget()
    host.resize(1230, 720)
    page.setParent(host)
    page.setGeometry(0, 0, 1230, 720)
    host.show()
    text = parts_bench.bench_text(address)

    def make(library: Library) -> tuple[Unit, Visit]:
        unit = edit.create_unit(library, parse(parts_bench.unit_text(count), "unit", UnitFile))
        return unit, edit.open_visit(library, unit.id)

    def opened() -> None:
        page.hand.go(0)
        page.act(Action.HANDS_FREE)

    def attach() -> None:
        work.runner.know_bench(benches.parse(text, "bench"))
        work.runner.bench_opened.connect(opened)
        work.runner.open_bench(text, "bench", [])

    shelf.opened.connect(lambda: shelf.edit(make, lambda made: shelf.choose(*made)))
    page.hand.opened.connect(lambda: link.start() if page.hand.book.rows else None)
    link.up.connect(attach)
    shelf.open()
    application.exec()
    shelf.close()
    print(json.dumps(ear.times), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
