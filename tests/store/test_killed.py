"""SIGKILL amid writing, real processes: everything acknowledged is there, and nothing is half there."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from helpers.kept import some_readings

from benchlog.store import query, query_unit
from benchlog.store.library import Library
from benchlog.store.places import lock_path
from benchlog.store.records import Ending, State

TESTS = Path(__file__).parents[1]
KILLS = (8, pytest.param(25, marks=pytest.mark.long))


@contextmanager
def child(what: str, folder: Path) -> Iterator[subprocess.Popen[str]]:
    """The writing process, killed at the latest when the block ends."""
    paths = os.pathsep.join([str(TESTS), str(TESTS.parent), os.environ.get("PYTHONPATH", "")])
    process = subprocess.Popen(
        [sys.executable, "-m", "helpers.writing_child", what, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": paths},
    )
    with process:
        try:
            yield process
        finally:
            process.kill()


def lines_until_killed(process: subprocess.Popen[str], acknowledged: int) -> list[list[str]]:
    """What the child said until it was killed after so many lines, the pipe emptied."""
    assert process.stdout is not None
    said = [process.stdout.readline().split() for _ in range(acknowledged)]
    process.send_signal(signal.SIGKILL)
    said += [line.split() for line in process.stdout if line.endswith("\n")]
    process.wait()
    assert process.returncode == -signal.SIGKILL
    return [line for line in said if line]


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is POSIX")
@pytest.mark.parametrize("kills", KILLS)
def test_a_killed_recorder_loses_nothing_it_acknowledged(kills: int, tmp_path: Path) -> None:
    Library.open(tmp_path).close()
    chance = random.Random(20261125)
    acknowledged: dict[str, tuple[int, int]] = {}
    for _ in range(kills):
        with child("session", tmp_path / "sessions") as process:
            said = lines_until_killed(process, 2 + chance.randrange(40))
        kept = [line for line in said if line[0] == "kept" and len(line) == 3]
        acknowledged[said[0][1]] = (int(kept[-1][1]), int(kept[-1][2]))
    for name, (last_seq, trips) in acknowledged.items():
        path = tmp_path / "sessions" / name
        rows = query.rows(path, 1)  # not swept yet
        assert len(rows) >= last_seq
        assert rows == some_readings(len(rows))
        assert len(query.events(path, "trip")) >= trips
    with Library.open(tmp_path) as library:
        assert {line.file.name for line in library.swept.closed} == set(acknowledged)
        assert library.swept.folded == kills
        assert library.swept.problems == []
    for name, (last_seq, _) in acknowledged.items():
        path = tmp_path / "sessions" / name
        state = query.state(path)
        assert (state.state, state.outcome) == (State.CLOSED, Ending.LOST)
        assert "benchlog's watch ended without closing it" in state.reason
        assert state.readings >= last_seq
        assert not path.with_name(f"{name}-wal").exists()
        assert not lock_path(path).exists()
        check = sqlite3.connect(path)
        assert check.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        check.close()


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is POSIX")
def test_a_killed_holder_of_the_library_loses_no_reading_it_acknowledged(tmp_path: Path) -> None:
    acknowledged: list[str] = []
    for turn in range(5):
        with child("library", tmp_path) as process:
            said = lines_until_killed(process, 5 + 7 * turn)
        acknowledged += [
            line[1] for line in said if line[0] == "kept" and len(line) == 2 and len(line[1]) == 36
        ]
    assert len(acknowledged) > 25
    assert all(query_unit.has_reading(tmp_path, reading) for reading in acknowledged)


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is POSIX")
def test_a_commit_cut_short_is_rolled_back_by_the_first_who_looks(tmp_path: Path) -> None:
    with child("amid", tmp_path) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "amid\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert (tmp_path / "library.db-journal").stat().st_size > 0
    assert query.sessions(tmp_path) == ()  # a reader without the lock
    assert not (tmp_path / "library.db-journal").exists()
    with Library.open(tmp_path) as library:
        (kept,) = library.connection.execute("SELECT count(*) FROM reading").fetchone()
    assert kept == 1


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is POSIX")
def test_a_recorder_that_lives_is_left_alone(tmp_path: Path) -> None:
    Library.open(tmp_path).close()
    with child("session", tmp_path / "sessions") as process:
        assert process.stdout is not None
        name = process.stdout.readline().split()[1]
        process.stdout.readline()
        with Library.open(tmp_path) as library:
            assert [line.file.name for line in library.swept.live] == [name]
            assert library.swept.closed == []
        (line,) = query.sessions(tmp_path)
        assert line.state is State.LIVE
        said = lines_until_killed(process, 3)
        assert len(query.rows(tmp_path / "sessions" / name, 1)) >= int(said[-1][1])
    with Library.open(tmp_path) as library:
        assert [line.file.name for line in library.swept.closed] == [name]
