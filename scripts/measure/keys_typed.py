"""Types words over a list of many past runs and says how long each key takes: `python -m measure.keys_typed RUNS`."""

import json
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchlog.domain.sought import Finder
from benchlog.store.ids import utc_text
from benchlog.store.index import words_of
from benchlog.store.records import Ending, SessionLine, State
from benchlog.store.run_facts import RunFacts, TakenPart, UnitFacts, findables
from benchlog.window.keys import Keys
from benchlog.window.link import Link
from benchlog.window.look import Look
from benchlog.window.past_list import RunList
from benchlog.window.past_row import Listed, PastRow
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

UNITS, PARTS, WORDS = 40, 400, 300
"""So many units with so many parts each, and so many words written in each run."""
TYPED = ("hall 7 tripped", "march 2026 r101", "word12 unit", "r101 taken", "nothing of this")


def main() -> None:
    """Each key is answered when the list is drawn again."""
    count = int(sys.argv[1])
    application = QApplication(["keys"])
    listed = _listed(count)
    folder = Path(tempfile.mkdtemp())
    runs = RunList(Work(Look(application, "light"), Keys(), Runner(Link()), Shelf(folder)))
    runs.resize(300, 800)
    runs.show_rows(listed, listed.rows[0].file)
    runs.show()
    application.processEvents()
    took = []
    for text in TYPED:
        for letter in (*text, *"\b" * len(text)):
            begun = time.perf_counter()
            if letter == "\b":
                QTest.keyClick(runs.field, Qt.Key.Key_Backspace)
            else:
                QTest.keyClicks(runs.field, letter)
            application.processEvents()
            took.append(1e3 * (time.perf_counter() - begun))
    print(json.dumps({"ms": took}), flush=True)


def _listed(count: int) -> Listed:
    begun = datetime(2026, 11, 27, 12, tzinfo=UTC)
    lines = [_line(n, utc_text(begun - timedelta(hours=7 * n))) for n in range(count)]
    facts = RunFacts(
        {
            f"u{n}": UnitFacts(f"Hall {n}", "", ("left", "right"), tuple(f"R{100 + k}" for k in range(PARTS)))
            for n in range(UNITS)
        },
        {f"v{n}": n for n in range(10 * UNITS)},
        {f"s{n}": (TakenPart(f"R{100 + n % PARTS}", "left", "resistor"),) for n in range(0, count, 3)},
    )
    rows = tuple(PastRow(line, facts.units[line.unit].name) for line in lines)
    finder = Finder(findables([(row.line, row.ending) for row in rows], facts))
    return Listed(rows, finder, places={row.file.name: place for place, row in enumerate(rows)})


def _line(n: int, started: str) -> SessionLine:
    endings = tuple(Ending)
    return SessionLine(
        id=f"s{n}",
        file=Path(f"sessions/{n:06}.db"),
        started=started,
        unit=f"u{n % UNITS}",
        visit=f"v{n % (10 * UNITS)}",
        plan_name="behind a lamp" if n % 2 else "straight",
        state=State.CLOSED,
        outcome=endings[n % len(endings)],
        reason="all stages done",
        words=words_of(" ".join(f"word{(n * k) % 5000}" for k in range(WORDS))),
    )


if __name__ == "__main__":
    main()
