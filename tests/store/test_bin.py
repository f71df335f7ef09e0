"""Deleted runs lie in the bin and come back, also in a later library, until a person empties it."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from helpers.kept import begin, some_readings

from benchlog.domain.unit import UnitFile
from benchlog.errors import BadInput, Busy
from benchlog.store import bin as deleted
from benchlog.store import edit, query
from benchlog.store.ids import new_id
from benchlog.store.index import read_line
from benchlog.store.library import Library


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with Library.open(tmp_path / "library") as held:
        yield held


def a_run(library: Library, day: int = 1, **more: object) -> Path:
    writer = begin(library.sessions, started=f"2026-11-{day:02}T10:00:00.000Z", **more)
    writer.append(readings=some_readings(3))
    writer.close("completed", "all stages done", 1)
    edit.put_session_in_index(library, writer.path)
    return writer.path


def listed(library: Library) -> list[str]:
    return [line.file.name for line in query.sessions(library.folder)]


def test_a_deleted_run_is_in_the_bin_and_undo_brings_it_back_whole(library: Library) -> None:
    run, other = a_run(library), a_run(library, 2)
    before = run.read_bytes()
    label = deleted.delete(library, [run])
    assert label == f"delete the run {run.stem}"
    assert listed(library) == [other.name]
    (one,) = deleted.binned(library.folder)
    assert (one.file.name, read_line(one.file).readings) == (run.name, 3)
    assert deleted.undo_of_runs(library) == label
    assert listed(library) == [other.name, run.name]
    assert run.read_bytes() == before
    assert deleted.binned(library.folder) == ()


def test_it_comes_back_after_a_restart_and_several_go_in_one_act(tmp_path: Path) -> None:
    with Library.open(tmp_path) as library:
        runs = [a_run(library), a_run(library, 2)]
        assert deleted.delete(library, runs) == "delete 2 runs"
        assert listed(library) == []
    with Library.open(tmp_path) as library:
        assert listed(library) == []
        assert library.undo() == "delete 2 runs"
        assert len(listed(library)) == 2


def test_one_run_is_brought_back_and_that_is_an_act_of_its_own(library: Library) -> None:
    run = a_run(library)
    deleted.delete(library, [run])
    (one,) = deleted.binned(library.folder)
    deleted.bring_back(library, one.id)
    assert listed(library) == [run.name]
    with pytest.raises(BadInput, match="there no more"):
        deleted.bring_back(library, one.id)
    assert library.undo() == f"bring back the run {run.stem}"
    assert listed(library) == []
    library.undo()
    assert listed(library) == [run.name]


def test_an_emptied_bin_is_gone_for_good_and_blocks_no_undo(library: Library) -> None:
    edit.create_unit(library, UnitFile(name="Hall amplifier"))
    run = a_run(library)
    deleted.delete(library, [run])
    assert deleted.empty(library) == 1
    assert not list((library.folder / "bin").glob("*"))
    assert deleted.binned(library.folder) == ()
    assert deleted.empty(library) == 0
    assert library.undo() == "new unit Hall amplifier"
    assert listed(library) == []
    assert library.undo() == ""


def test_a_live_run_is_never_deleted_and_one_whose_recorder_died_is(library: Library) -> None:
    writer = begin(library.sessions)
    with pytest.raises(Busy, match="is still open"):
        deleted.delete(library, [writer.path])
    writer.abandon()
    deleted.delete(library, [writer.path])
    (one,) = deleted.binned(library.folder)
    assert read_line(one.file).outcome == "not closed"
    with pytest.raises(BadInput, match="there is no run here"):
        deleted.delete(library, [writer.path])


def test_a_file_nobody_can_read_can_be_deleted(library: Library) -> None:
    bad = library.sessions / "20200101T000000Z-deadbeef.db"
    bad.write_bytes(b"no run" * 100)
    deleted.delete(library, [bad])
    assert listed(library) == []
    library.undo()
    assert listed(library) == [bad.name]


def left_by_a_newer(library: Library) -> Path:
    """A run of a program that is not there yet, which died: what it kept last lies in the log beside the file."""
    writer = begin(library.sessions)
    writer.append(readings=some_readings(3))
    with closing(sqlite3.connect(writer.path)) as newer:
        newer.execute("PRAGMA user_version = 9")
    run = writer.path.with_name("20261130T000000Z-0badcafe.db")
    for end in ("", "-wal"):
        shutil.copy(f"{writer.path}{end}", f"{run}{end}")
    writer.abandon()
    writer.path.unlink()
    return run


def kept_in(run: Path) -> int:
    with closing(sqlite3.connect(f"{run.as_uri()}?mode=ro", uri=True)) as connection:
        return int(connection.execute("SELECT count(*) FROM reading").fetchone()[0])


def test_the_log_of_a_run_that_only_a_newer_program_can_close_goes_and_comes_with_it(
    library: Library,
) -> None:
    run = left_by_a_newer(library)
    deleted.delete(library, [run])
    assert list(library.sessions.glob(f"{run.name}*")) == []
    assert kept_in(library.folder / "bin" / run.name) == 3
    library.undo()
    assert kept_in(run) == 3
    deleted.delete(library, [run])
    deleted.empty(library)
    assert list((library.folder / "bin").iterdir()) == []


def test_a_run_that_died_and_is_damaged_within_can_be_deleted(library: Library) -> None:
    writer = begin(library.sessions)
    writer.append(readings=some_readings(3000))
    writer.abandon()
    with closing(sqlite3.connect(writer.path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    data = bytearray(writer.path.read_bytes())
    page = len(data) // 4096 // 2
    data[page * 4096 : page * 4096 + 64] = b"\xff" * 64
    writer.path.write_bytes(data)
    deleted.delete(library, [writer.path])
    assert listed(library) == []
    assert (library.folder / "bin" / writer.path.name).read_bytes() == data


def test_a_crash_before_the_files_have_followed_is_put_right(tmp_path: Path) -> None:
    with Library.open(tmp_path) as library:
        run = a_run(library)
        with library.act("as if it had died then") as act:
            row = {"id": new_id(), "file": run.name, "session": "", "at": act.at, "emptied": None}
            act.insert("binned", row)
    with Library.open(tmp_path) as library:
        assert listed(library) == []
        assert (library.folder / "bin" / run.name).is_file()


def test_undo_of_runs_leaves_other_acts_alone(library: Library) -> None:
    deleted.delete(library, [a_run(library)])
    edit.create_unit(library, UnitFile(name="Hall amplifier"))
    with pytest.raises(BadInput, match='the newest act is "new unit Hall amplifier"'):
        deleted.undo_of_runs(library)
