"""The library folder: one holder, one sentence for everyone else, acts that are whole and can be undone."""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from helpers.kept import begin, some_readings
from helpers.library import Clock, stocked

from benchlog.errors import BadInput, Busy, Damaged, Full, TooNew
from benchlog.store import edit, migrations, query, query_unit
from benchlog.store.library import Library
from benchlog.store.migrations import Layout, Step

HOLD = """
import sys
from pathlib import Path
from benchlog.store.library import Library
with Library.open(Path(sys.argv[1])):
    print("open", flush=True)
    sys.stdin.read()
"""


def test_a_new_library_is_a_folder_with_everything_in_its_place(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "library"
    with Library.open(folder, "benchlog 0.0.0") as library:
        assert {path.name for path in folder.iterdir()} == {
            "library.db",
            "library.lock",
            "plans",
            "benches",
            "photos",
            "sessions",
            "backups",
        }
        assert (library.sessions, library.plans) == (folder / "sessions", folder / "plans")
        assert library.connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert library.connection.execute("SELECT program FROM format").fetchall() == [("benchlog 0.0.0",)]
    assert query.sessions(folder) == ()
    assert query_unit.units(folder) == ()


def test_a_second_holder_is_refused_while_readers_come_and_go(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"open\n"
        with pytest.raises(
            Busy, match=rf"{tmp_path}: is in use by another benchlog \(process {process.pid} on "
        ):
            Library.open(tmp_path)
        assert query.sessions(tmp_path) == ()
        process.kill()
    Library.open(tmp_path).close()


def test_one_process_cannot_hold_it_twice(tmp_path: Path) -> None:
    with Library.open(tmp_path), pytest.raises(Busy, match=f"process {os.getpid()} on "):
        Library.open(tmp_path)
    Library.open(tmp_path).close()


def test_a_newer_library_is_refused_and_left_alone(tmp_path: Path) -> None:
    Library.open(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "library.db")) as connection:
        connection.execute("INSERT INTO format VALUES (99, 'later', 'benchlog 2.1.0', '2031')")
        connection.execute("PRAGMA user_version = 99")
        connection.commit()
    before = (tmp_path / "library.db").read_bytes()
    with pytest.raises(TooNew, match=r"was written by benchlog 2\.1\.0 in format 99"):
        Library.open(tmp_path)
    with pytest.raises(TooNew):
        query_unit.units(tmp_path)
    assert (tmp_path / "library.db").read_bytes() == before
    assert (tmp_path / "library.lock").read_text()  # let go again:
    with pytest.raises(TooNew):
        Library.open(tmp_path)


def test_a_library_that_is_no_database(tmp_path: Path) -> None:
    (tmp_path / "library.db").write_text("shopping list")
    with pytest.raises(Damaged):
        Library.open(tmp_path)


def test_a_file_in_the_way_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "library").write_text("")
    with pytest.raises(Full):
        Library.open(tmp_path / "library")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "plans").write_text("")
    with pytest.raises(Full):
        Library.open(tmp_path / "other")


def test_a_sweep_that_fails_lets_go_of_the_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: Library) -> None:
        raise Full("library.db", "no room")

    with monkeypatch.context() as patch:
        patch.setattr(Library, "sweep", fail)
        with pytest.raises(Full):
            Library.open(tmp_path)
    Library.open(tmp_path).close()


class TestActs:
    """What is done in one go is one commit and one undo."""

    def test_an_act_within_an_act_belongs_to_it(self, tmp_path: Path) -> None:
        stock = stocked(tmp_path)
        with stock.library.act("take in anew"):
            visit = edit.open_visit(stock.library, stock.unit.id, "back again")
            edit.start_round(stock.library, visit.id, stock.round.kind)
        assert len(query_unit.visits(tmp_path, stock.unit.id)) == 2
        assert edit.undo(stock.library) == "take in anew"
        assert query_unit.visits(tmp_path, stock.unit.id) == (stock.visit,)
        stock.library.close()

    def test_an_act_that_fails_leaves_nothing(self, tmp_path: Path) -> None:
        stock = stocked(tmp_path)
        with pytest.raises(BadInput), stock.library.act("half") as act:  # noqa: PT012
            act.insert("pair", {"id": "p", "unit": stock.unit.id, "designator": "A", "other": "B"})
            edit.expect(stock.library, "nobody", "4k7 5%")
        assert query_unit.units(tmp_path) == (stock.unit,)
        edit.open_visit(stock.library, stock.unit.id)
        assert edit.undo(stock.library) == "take the unit in"
        stock.library.close()

    def test_everything_can_be_taken_back_in_turn(self, tmp_path: Path) -> None:
        stock = stocked(tmp_path)
        labels = []
        while label := edit.undo(stock.library):
            labels.append(label)
        assert labels == [
            "begin a round as found",
            "take the unit in",
            "new unit Hall amplifier, two channels",
        ]
        for table in ("unit", "pair", "visit", "board", "part", "fitted", "expectation", "round"):
            assert stock.library.connection.execute(f"SELECT 1 FROM {table}").fetchall() == []  # noqa: S608
        assert edit.undo(stock.library) == ""
        stock.library.close()

    def test_an_undo_that_fails_leaves_everything(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        stock = stocked(tmp_path)
        monkeypatch.setattr(stock.library, "now", lambda: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            edit.undo(stock.library)
        assert query_unit.rounds(tmp_path, stock.visit.id) == (stock.round,)
        stock.library.close()


class TestBackups:
    """A consistent copy, asked for or made before the layout changes."""

    def test_a_backup_is_a_library(self, tmp_path: Path) -> None:
        stock = stocked(tmp_path / "library")
        writer = begin(stock.library.sessions)
        writer.append(readings=some_readings())
        writer.close("completed", "", 0)
        copy = stock.library.backup()
        stock.library.close()
        assert copy.parent == tmp_path / "library" / "backups"
        restored = tmp_path / "restored"
        restored.mkdir()
        copy.rename(restored / "library.db")
        assert query_unit.units(restored) == (stock.unit,)

    def test_a_second_of_the_same_second_takes_the_place_of_the_first(self, tmp_path: Path) -> None:
        with Library.open(tmp_path, now=lambda: "2026-11-25T08:00:00.000Z") as library:
            assert library.backup() == library.backup()
            assert [path.name for path in library.backups.iterdir()] == ["library-20261125T080000Z.db"]

    def test_an_older_library_is_copied_before_it_is_brought_up(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        stocked(tmp_path).library.close()
        step = Step(
            "colours", lambda connection: connection.execute("ALTER TABLE unit ADD COLUMN colour TEXT")
        )
        old = migrations.LIBRARY
        later = Layout(old.noun, old.application_id, old.tables, (*old.steps, step))
        monkeypatch.setattr("benchlog.store.library.LIBRARY", later)
        with Library.open(tmp_path, "benchlog 0.2.0", now=Clock()) as library:
            assert library.connection.execute("SELECT colour FROM unit").fetchall() == [(None,)]
            (copy,) = library.backups.iterdir()
        with closing(sqlite3.connect(copy)) as connection:
            assert connection.execute("PRAGMA user_version").fetchone() == (old.version,)
            assert connection.execute("SELECT count(*) FROM unit").fetchone() == (1,)
