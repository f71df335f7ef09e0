"""A process that appends without end and says on standard output what is on the disk; to be killed.

`writing_child.py session FOLDER` acknowledges the last sequence number of each commit, and every
tenth commit an event; `writing_child.py library FOLDER` acknowledges the id of each part reading;
`writing_child.py amid FOLDER` dies by the parent's hand amid one large commit of the library.
"""

import sys
from itertools import count
from pathlib import Path

from helpers.kept import begin, some_readings, tripped

from benchlog.domain.reading import Function, Outcome
from benchlog.domain.unit import PartReading
from benchlog.store import edit
from benchlog.store.ids import new_id
from benchlog.store.library import Library


def session(folder: Path) -> None:
    """Append batches of one to forty readings."""
    writer = begin(folder)
    print("file", writer.path.name, flush=True)
    first = 1
    for turn in count(1):
        size = 1 + turn * 7 % 40
        events = [tripped()] if turn % 10 == 0 else []
        writer.append(readings=some_readings(size, first=first), events=events)
        first += size
        print("kept", first - 1, turn // 10, flush=True)


def library(folder: Path) -> None:
    """Keep part readings one by one."""
    with Library.open(folder) as opened:
        for turn in count():
            reading = _reading(turn)
            edit.keep_reading(opened, reading)
            print("kept", reading.id, flush=True)


def amid(folder: Path) -> None:
    """Stand in an act whose pages have been spilled to the file already."""
    with Library.open(folder) as opened:
        edit.keep_reading(opened, _reading(0))
        opened.connection.execute("PRAGMA cache_size = 5")
        with opened.act("never ended"):
            for turn in range(1, 3000):
                edit.keep_reading(opened, _reading(turn))
            print("amid", flush=True)
            sys.stdin.read()


def _reading(turn: int) -> PartReading:
    return PartReading(
        new_id(), f"R{turn}", Function.OHMS, Outcome.OK, 4680.0, "ohm", "+4.68E3", "2026-11-25T10:15:00.000Z"
    )


if __name__ == "__main__":
    {"session": session, "library": library, "amid": amid}[sys.argv[1]](Path(sys.argv[2]))
