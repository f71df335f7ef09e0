"""Where the files of runs lie follows what the library says of them: in `sessions`, in `bin`, or gone for good."""

import sqlite3
from pathlib import Path

from benchlog.store import index
from benchlog.store.opening import plain_errors
from benchlog.store.places import BIN, SESSIONS, beside


def settle(folder: Path, connection: sqlite3.Connection) -> list[Path]:
    """Move what does not lie where the library has it; the files that came back among the runs."""
    rows = connection.execute("SELECT file, emptied IS NULL FROM binned ORDER BY rowid").fetchall()
    away = {file for file, there in rows if there}
    gone = {file for file, there in rows if not there} - away
    sessions, bin_ = folder / SESSIONS, folder / BIN
    with plain_errors(bin_):
        for file in sorted(away):
            if (sessions / file).is_file():
                bin_.mkdir(exist_ok=True)
                _move(sessions / file, bin_)
                index.drop_lines(connection, [file])
        back = []
        for path in sorted(bin_.glob("*.db")):
            if path.name in gone:
                for part in (*beside(path), path):
                    part.unlink(missing_ok=True)
            elif path.name not in away and not (sessions / path.name).exists():
                _move(path, sessions)
                back.append(sessions / path.name)
    return back


def _move(path: Path, folder: Path) -> None:
    """Move a file after what lies beside it: interrupted, the file itself is still where the next try looks."""
    for part in (*beside(path), path):
        if part.exists():
            part.replace(folder / part.name)
