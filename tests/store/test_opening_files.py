"""Opening a file of ours: a checklist with a sentence for each thing that can be wrong, bugs left loud."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from benchlog.errors import BadInput, Busy, Damaged, Full, StoreError, TooNew
from benchlog.store import migrations, opening
from benchlog.store.migrations import LIBRARY, SESSION, Layout, Step
from benchlog.store.opening import create, open_file, plain_errors, reading

SMALL = Layout("card file", 0x1234, (migrations.SESSION.tables[0], "CREATE TABLE card (text TEXT) STRICT"))


def fill(connection: sqlite3.Connection) -> None:
    connection.execute("INSERT INTO card VALUES ('first')")


def add_colour(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE card ADD COLUMN colour TEXT")


def add_size(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE card ADD COLUMN size TEXT")


def fail_amid(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE card ADD COLUMN half TEXT")
    connection.execute("INSERT INTO no_such_table VALUES (1)")


def later(*steps: Step) -> Layout:
    """The same kind of file as a later program knows it."""
    return Layout(SMALL.noun, SMALL.application_id, SMALL.tables, steps)


@pytest.fixture
def card(tmp_path: Path) -> Path:
    path = tmp_path / "cards.db"
    create(path, SMALL, fill, "benchlog 0.1.0")
    return path


@pytest.fixture
def cards(card: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(card)) as connection:
        yield connection


def columns(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [row[1] for row in connection.execute("PRAGMA table_info (card)")]


def test_a_new_file_is_whole_and_says_who_made_it(card: Path, cards: sqlite3.Connection) -> None:
    assert cards.execute("PRAGMA user_version").fetchone() == (1,)
    assert cards.execute("PRAGMA application_id").fetchone() == (0x1234,)
    assert cards.execute("SELECT version, program FROM format").fetchall() == [(1, "benchlog 0.1.0")]
    assert [path.name for path in card.parent.iterdir()] == ["cards.db"]


def test_a_file_that_cannot_be_finished_is_not_there_at_all(tmp_path: Path) -> None:
    path = tmp_path / "cards.db"
    with pytest.raises(sqlite3.OperationalError):
        create(path, SMALL, fail_amid)
    assert not path.exists()
    create(path, SMALL, fill)  # what was left of the first try is not in the way
    assert [each.name for each in tmp_path.iterdir()] == ["cards.db"]


def test_every_connection_has_the_pragmas(card: Path) -> None:
    with closing(open_file(card, SMALL, write=True)) as connection:
        found = {
            name: connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("foreign_keys", "synchronous", "busy_timeout", "trusted_schema", "fullfsync")
        }
    assert found == {
        "foreign_keys": 1,
        "synchronous": 2,
        "busy_timeout": 5000,
        "trusted_schema": 0,
        "fullfsync": 1,
    }


def test_a_reader_can_write_nothing(card: Path) -> None:
    with pytest.raises(Full), reading(card, SMALL) as connection:
        connection.execute("INSERT INTO card VALUES ('second')")


def test_a_reader_sees_one_state_from_first_to_last(card: Path, cards: sqlite3.Connection) -> None:
    cards.execute("PRAGMA journal_mode = WAL")
    with reading(card, SMALL) as connection:
        before = connection.execute("SELECT count(*) FROM card").fetchone()
        cards.execute("INSERT INTO card VALUES ('second')")
        cards.commit()
        assert connection.execute("SELECT count(*) FROM card").fetchone() == before == (1,)


def test_a_path_with_signs_that_mean_something_in_an_address(tmp_path: Path) -> None:
    folder = tmp_path / "bench #2 ?mode=rw 100% é"
    folder.mkdir()
    create(folder / "cards.db", SMALL, fill)
    with reading(folder / "cards.db", SMALL) as connection:
        assert connection.execute("SELECT text FROM card").fetchall() == [("first",)]


@pytest.mark.parametrize("write", [False, True], ids=["read", "write"])
class TestRefused:
    """Each thing that can be wrong with a file has its own error and a sentence."""

    def test_no_file(self, tmp_path: Path, write: bool) -> None:
        with pytest.raises(BadInput, match="there is no library here"):
            open_file(tmp_path / "library.db", LIBRARY, write=write)
        assert list(tmp_path.iterdir()) == []

    def test_a_folder(self, tmp_path: Path, write: bool) -> None:
        with pytest.raises(BadInput, match="there is no library here"):
            open_file(tmp_path, LIBRARY, write=write)

    @pytest.mark.parametrize("content", [b"", b"not a database, just a text that is long enough" * 40])
    def test_another_file(self, tmp_path: Path, content: bytes, write: bool) -> None:
        path = tmp_path / "cards.db"
        path.write_bytes(content)
        with pytest.raises(Damaged):
            open_file(path, SMALL, write=write)
        assert path.read_bytes() == content

    def test_a_file_of_another_program(self, card: Path, write: bool) -> None:
        with pytest.raises(Damaged, match="is no session file of benchlog; check the name"):
            open_file(card, SESSION, write=write)

    def test_a_newer_file_is_refused_by_the_name_of_the_program_that_wrote_it(
        self, card: Path, cards: sqlite3.Connection, write: bool
    ) -> None:
        cards.execute("INSERT INTO format VALUES (4, 'colours', 'benchlog 9.9.0', '2030')")
        cards.execute("PRAGMA user_version = 4")
        cards.commit()
        before = card.read_bytes()
        with pytest.raises(
            TooNew, match=r"written by benchlog 9\.9\.0 in format 4, and benchlog .* reads up to 1"
        ):
            open_file(card, SMALL, write=write)
        assert card.read_bytes() == before

    def test_a_newer_file_that_no_longer_says_who_wrote_it(
        self, card: Path, cards: sqlite3.Connection, write: bool
    ) -> None:
        cards.execute("DROP TABLE format")
        cards.execute("PRAGMA user_version = 4")
        cards.commit()
        with pytest.raises(TooNew, match="written by a newer benchlog in format 4"):
            open_file(card, SMALL, write=write)

    def test_a_file_that_lacks_a_table(self, card: Path, cards: sqlite3.Connection, write: bool) -> None:
        cards.execute("DROP TABLE card")
        cards.commit()
        with pytest.raises(Damaged, match="it lacks the column text of its table card"):
            open_file(card, SMALL, write=write)

    def test_a_locked_file(
        self, card: Path, cards: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch, write: bool
    ) -> None:
        monkeypatch.setattr(opening, "BUSY_WAIT", 0.01)
        cards.execute("BEGIN EXCLUSIVE")
        with pytest.raises(Busy, match="is in use by another program"):
            open_file(card, SMALL, write=write)

    def test_too_old_an_sqlite(self, card: Path, monkeypatch: pytest.MonkeyPatch, write: bool) -> None:
        monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 36, 0))
        with pytest.raises(StoreError, match=r"is too old; use a Python with 3\.37\.0 or later"):
            open_file(card, SMALL, write=write)


class TestMigrating:
    """Older files are brought up in order, each step whole or not at all, and only to be written."""

    def test_steps_are_taken_in_order_and_written_down(self, card: Path) -> None:
        layout = later(Step("colours", add_colour), Step("sizes", add_size))
        seen = []
        open_file(
            card,
            layout,
            write=True,
            program="benchlog 0.3.0",
            before_migrating=lambda _: seen.append(columns(card)),
        ).close()
        assert seen == [["text"]]
        assert columns(card) == ["text", "colour", "size"]
        with reading(card, layout) as connection:
            steps = connection.execute(
                "SELECT version, name, program FROM format ORDER BY version"
            ).fetchall()
        assert steps[1:] == [(2, "colours", "benchlog 0.3.0"), (3, "sizes", "benchlog 0.3.0")]

    def test_only_the_steps_that_are_missing_are_taken(self, card: Path) -> None:
        open_file(card, later(Step("colours", add_colour)), write=True).close()
        open_file(card, later(Step("colours", fail_amid), Step("sizes", add_size)), write=True).close()
        assert columns(card) == ["text", "colour", "size"]

    def test_a_step_that_fails_leaves_the_file_at_the_step_before(self, card: Path) -> None:
        layout = later(Step("colours", add_colour), Step("broken", fail_amid))
        with pytest.raises(sqlite3.OperationalError):
            open_file(card, layout, write=True)
        assert columns(card) == ["text", "colour"]
        open_file(card, later(Step("colours", add_colour)), write=True).close()

    def test_a_file_that_is_only_read_is_read_as_it_is(self, card: Path) -> None:
        before = card.read_bytes()
        with reading(card, later(Step("colours", add_colour))) as connection:
            assert connection.execute("SELECT text FROM card").fetchall() == [("first",)]
        assert card.read_bytes() == before

    def test_the_versions_of_today(self) -> None:
        assert (LIBRARY.version, SESSION.version) == (8, 2)


class TestPlainErrors:
    """What the disk does is a sentence; what we do wrong stays loud."""

    def test_a_mistake_in_our_sql_is_a_bug(self, card: Path) -> None:
        with (
            pytest.raises(sqlite3.OperationalError, match="no such table"),
            reading(card, SMALL) as connection,
        ):
            connection.execute("SELECT * FROM nowhere")

    def test_a_constraint_is_a_bug(self, card: Path) -> None:
        with (
            pytest.raises(sqlite3.IntegrityError),
            plain_errors(card),
            closing(open_file(card, SMALL, write=True)) as connection,
        ):
            connection.execute("INSERT INTO card VALUES (x'00')")

    def test_a_closed_connection_is_a_bug(self, card: Path, cards: sqlite3.Connection) -> None:
        cards.close()
        with pytest.raises(sqlite3.ProgrammingError), plain_errors(card):
            cards.execute("SELECT 1")

    def test_a_text_that_is_no_text_is_damage(self, card: Path, cards: sqlite3.Connection) -> None:
        cards.execute("UPDATE card SET text = CAST(x'ff41' AS TEXT)")
        cards.commit()
        with pytest.raises(Damaged), reading(card, SMALL) as connection:
            connection.execute("SELECT text FROM card").fetchall()

    def test_an_error_of_the_system_names_its_reason(self, tmp_path: Path) -> None:
        with pytest.raises(Full, match="No space left on device"), plain_errors(tmp_path):
            raise OSError(28, "No space left on device")
        with pytest.raises(Full, match="something else"), plain_errors(tmp_path):
            raise OSError("something else")
