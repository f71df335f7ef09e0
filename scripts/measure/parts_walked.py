"""Goes over many parts in the window and says how long each picture takes: `python -m measure.parts_walked PARTS`.

Four things: the list scrolled, the next part by a key, a letter typed into the words that narrow the list, a
typed reading stored. Each turn of the event loop counts by itself: that is what a picture has to wait for.
"""

import json
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchlog.domain.kind import Kind
from benchlog.domain.unit import BoardEntry, PartEntry, Unit, UnitFile, Visit
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.window.keys import Action, Keys
from benchlog.window.link import Link
from benchlog.window.look import Look
from benchlog.window.parts_page import PartsPage
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

HANG = 120.0
SCROLLS, STEPS, TAKES = 200, 200, 200
TYPED = ("electrolytics", "r10", "outside", "to do left", "4k7")
KINDS = (
    (Kind.RESISTOR, "R", "4k7 5%"),
    (Kind.ELECTROLYTIC, "C", "100u 20%"),
    (Kind.DIODE, "D", "0.5..0.7 V"),
)


def main() -> None:
    """Prints one JSON object: milliseconds of every turn, by what was done."""
    count = int(sys.argv[1])
    application = QApplication(["parts"])
    folder = Path(tempfile.mkdtemp())
    with Library.open(folder) as library:
        unit, visit = _stock(library, count)
    shelf = Shelf(folder)
    page = PartsPage(Work(Look(application, "light"), Keys(), Runner(Link()), shelf))
    page.resize(1240, 760)
    page.show()
    walk = _Walk(application, page)
    shelf.open()
    shelf.choose(unit, visit)
    walk.until(lambda: len(page.hand.book.rows) == count)
    found = {
        "scroll": walk.scroll(),
        "next part": walk.step(),
        "narrow": walk.narrow(),
        "take": walk.take(),
    }
    print(json.dumps(found), flush=True)
    shelf.close()


def _stock(library: Library, count: int) -> tuple[Unit, Visit]:
    """A unit of two boards, half of all parts on each."""
    boards = []
    for side, name in ((1, "Left board"), (2, "Right board")):
        parts = []
        for n in range(count // 2):
            kind, letter, should = KINDS[n % len(KINDS)]
            parts.append(
                PartEntry(designator=f"{letter}{side}{n:04d}", kind=kind, marking=should, should_read=should)
            )
        boards.append(BoardEntry(name=name, part=tuple(parts)))
    unit = edit.create_unit(
        library, UnitFile(name="large", mirror=("*1#### <-> *2####",), board=tuple(boards))
    )
    return unit, edit.open_visit(library, unit.id)


class _Walk:
    """The page, and the turns of the event loop that each act takes."""

    def __init__(self, application: QApplication, page: PartsPage) -> None:
        self._application = application
        self._page = page

    def until(self, condition: Callable[[], bool]) -> list[float]:
        """Turn the event loop until something holds; milliseconds of every turn in which something was done."""
        took, end = [], time.monotonic() + HANG
        while not condition():
            if time.monotonic() > end:
                raise TimeoutError
            took.append(self._turn(lambda: None))
            time.sleep(0.0005)
        return [one for one in took if one > 0.2]

    def _turn(self, act: Callable[[], object]) -> float:
        begun = time.perf_counter()
        act()
        self._application.processEvents()
        return 1e3 * (time.perf_counter() - begun)

    def scroll(self) -> list[float]:
        """From top to bottom in leaps, each drawn."""
        bar = self._page.list.verticalScrollBar()
        most = bar.maximum()
        return [self._turn(lambda n=n: bar.setValue(most * n // SCROLLS)) for n in range(SCROLLS + 1)]  # type: ignore[misc]

    def step(self) -> list[float]:
        """The next part by a key."""
        return [self._turn(lambda: self._page.act(Action.DOWN)) for _ in range(STEPS)]

    def narrow(self) -> list[float]:
        """Words typed and taken away letter by letter."""
        took = []
        self._page.act(Action.FIND)
        seek = self._page.side.seek
        for text in TYPED:
            took += [self._turn(lambda one=one: QTest.keyClicks(seek, one)) for one in text]  # type: ignore[misc]
            took += [self._turn(lambda: QTest.keyClick(seek, Qt.Key.Key_Backspace)) for _ in text]
        QTest.keyClick(seek, Qt.Key.Key_Escape)
        self._application.processEvents()
        return took

    def take(self) -> list[float]:
        """A reading typed and stored, and on to the next; the longest turn of each."""
        longest = []
        book = self._page.hand.book
        for n in range(TAKES):
            turns = [self._turn(lambda key=key: self._type(key)) for key in self._reading()]  # type: ignore[misc]
            turns += self.until(lambda n=n: book.done > n)  # type: ignore[misc]
            longest.append(max(turns))
        return longest

    def _reading(self) -> str:
        row = self._page.hand.row
        kind = row.line.part.kind if row is not None else Kind.RESISTOR
        return {Kind.RESISTOR: "4.7", Kind.ELECTROLYTIC: "101"}.get(kind, ".61") + "/"

    def _type(self, key: str) -> None:
        code = Qt.Key.Key_Slash if key == "/" else Qt.Key(ord(key))
        event = QKeyEvent(QEvent.Type.KeyPress, code, Qt.KeyboardModifier.NoModifier, key)
        if not self._page.typed(event):
            self._page.act(Action.SKIP)


if __name__ == "__main__":
    main()
