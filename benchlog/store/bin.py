"""Deleted runs: their files lie in the folder `bin` and come back by undo, also later, until a person empties it.

What is deleted stands in the table `binned`; the files follow it. So a crash between the two leaves nothing lost:
the next opening moves what does not lie where the table has it.
"""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from benchlog.errors import BadInput, Busy
from benchlog.store import good_run, index
from benchlog.store.committing import committed
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.lock import FileLock
from benchlog.store.migrations import LIBRARY
from benchlog.store.opening import plain_errors, reading
from benchlog.store.places import BIN, LIBRARY_FILE, lock_path
from benchlog.store.records import SessionLine, State
from benchlog.store.sweep import SweepReport, take_in


@dataclass(frozen=True, slots=True)
class Binned:
    """A deleted run that can be brought back: its row's id, when it was deleted, and its file."""

    id: str
    at: str
    file: Path


def delete(library: Library, sessions: Sequence[Path], *, even_reference: bool = False) -> str:
    """Put runs in the bin, in one act; its label.

    `Busy` for one that is live or looked at just now; `BadInput` for one that is the reference of its unit, unless
    a person has said that it goes all the same.
    """
    lines = [_at_rest(library, session) for session in sessions]
    if not even_reference:
        for line in lines:
            if good_run.is_reference(library.folder, line):
                fix = "say so again to delete it all the same"
                raise BadInput(line.file.stem, "is the reference that later plans of its unit expect", fix)
    label = f"delete {len(lines)} runs" if len(lines) != 1 else f"delete the run {lines[0].file.stem}"
    with library.act(label) as act:
        for line in lines:
            act.insert(
                "binned",
                {"id": new_id(), "file": line.file.name, "session": line.id, "at": act.at, "emptied": None},
            )
    library.settle_bin()
    return label


def _at_rest(library: Library, session: Path) -> SessionLine:
    """The line of a run that nobody writes: one left open by a dead recorder is closed first."""
    if not session.is_file():
        raise BadInput(str(session), "there is no run here", "look at the list again")
    try:
        FileLock.take(lock_path(session), str(session)).release(remove=True)
    except Busy:
        raise Busy(
            session.stem, "is still open, or is being put in order", "wait until that has ended"
        ) from None
    line = index.read_line(session)
    report = SweepReport()
    if line.state in (State.LIVE, State.NOT_FOLDED):
        line = take_in(session, library.connection, report)
    # Nobody can close one that is damaged within; nobody writes it either.
    if line.state in (State.LIVE, State.NOT_FOLDED) and not report.problems:
        raise Busy(session.stem, "is being looked at just now", "try again")
    return line


def binned(library: Path) -> tuple[Binned, ...]:
    """What lies in the bin, the newest deletion first; none of its files is read. Needs no lock."""
    with reading(library / LIBRARY_FILE, LIBRARY) as connection:
        rows = connection.execute(
            "SELECT id, at, file FROM binned WHERE emptied IS NULL ORDER BY at DESC, rowid DESC"
        ).fetchall()
    return tuple(Binned(id_, at, library / BIN / file) for id_, at, file in rows)


def bring_back(library: Library, id_: str) -> None:
    """Take one run out of the bin again, an act of its own; `BadInput` where it is there no more."""
    row = library.connection.execute(
        "SELECT file FROM binned WHERE id = ? AND emptied IS NULL", (id_,)
    ).fetchone()
    if row is None or not (library.folder / BIN / row[0]).is_file():
        raise BadInput("bin", "this run is there no more", "look at the list again")
    with library.act(f"bring back the run {Path(row[0]).stem}") as act:
        act.remove("binned", id_)
    library.settle_bin()


def empty(library: Library) -> int:
    """Remove for good what lies in the bin; how many runs that were. No undo leads back from here."""
    with plain_errors(library.folder / LIBRARY_FILE), committed(library.connection):
        count = _mark_emptied(library.connection, library.now())
    library.settle_bin()
    return count


def _mark_emptied(connection: sqlite3.Connection, at: str) -> int:
    """Write down that they are gone, and take their acts out of the way of undo."""
    rows = [id_ for (id_,) in connection.execute("SELECT id FROM binned WHERE emptied IS NULL").fetchall()]
    for id_ in rows:
        connection.execute("UPDATE binned SET emptied = ? WHERE id = ?", (at, id_))
        standing = connection.execute(
            "SELECT DISTINCT act FROM change WHERE \"table\" = 'binned' AND row = ? AND undoes IS NULL"
            " AND act NOT IN (SELECT undoes FROM change WHERE undoes IS NOT NULL)",
            (id_,),
        ).fetchall()
        for (act,) in standing:
            connection.execute(
                'INSERT INTO change (act, label, at, undoes, "table", row, "before", "after")'
                " VALUES (?, 'empty the bin', ?, ?, 'binned', ?, '{\"emptied\": null}', ?)",
                (new_id(), at, act, id_, f'{{"emptied": "{at}"}}'),
            )
    return len(rows)


def undo_of_runs(library: Library) -> str:
    """Take the newest act back if it was about runs; `BadInput` names it where it was about something else."""
    label, tables = library.newest()
    if tables - {"binned", "good_run"}:
        raise BadInput("undo", f'the newest act is "{label}"', "it is taken back on its own page")
    return library.undo()
