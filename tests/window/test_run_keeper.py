"""A run that has ended goes into the library's list; where that cannot be written, nothing is lost and all is said."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.full_disk import disk_full, needs_limits
from helpers.kept import begin, some_readings
from helpers.window_rig import Rig
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.recorder.client import messages
from benchlog.store import query
from benchlog.store.library import Library
from benchlog.window.look import Look
from benchlog.window.run_keeper import RunKeeper
from benchlog.window.run_view import Phase

HANG = 60_000


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[Rig]:
    made = Rig(look, tmp_path / "library")
    made.keeper = RunKeeper(made.work)  # type: ignore[attr-defined]
    qtbot.addWidget(made.frame)
    made.frame.show()
    yield made
    made.runner.view.phase = Phase.CLOSED
    made.frame.close()
    made.shelf.close()


def run_of(library: Path) -> Path:
    """A run with five readings, closed."""
    writer = begin(library / "sessions")
    writer.append(readings=some_readings(5))
    writer.close("completed", "all stages done", 1_000_000_000)
    return writer.path


def close(rig: Rig, path: Path) -> None:
    rig.link.say(messages.Closed(path=str(path), outcome="completed", reason="all stages done", folded=True))


def said(rig: Rig, begins: str) -> Callable[[], list[str]]:
    return lambda: [one.text for one in rig.frame.notices.standing() if one.text.startswith(begins)]


def test_what_is_said_after_the_close_is_a_late_note_in_the_runs_file(rig: Rig, qtbot: QtBot) -> None:
    rig.shelf.open()
    qtbot.waitUntil(lambda: rig.shelf.sessions != "", timeout=HANG)
    path = run_of(rig.shelf.folder)
    rig.runner.said_late.emit(str(path), 12.5, "The variable transformer is back at zero.")
    qtbot.waitUntil(lambda: len(query.remarks(path)) == 1, timeout=HANG)
    (note,) = query.remarks(path)
    assert (note.t, note.text, note.late) == (
        12_500_000_000,
        "The variable transformer is back at zero.",
        True,
    )


def listed(library: Library) -> int:
    return int(library.connection.execute("SELECT count(*) FROM session").fetchone()[0])


def test_a_run_kept_while_another_benchlog_has_the_library_is_copied_later(rig: Rig, qtbot: QtBot) -> None:
    with Library.open(rig.shelf.folder) as other:
        path = run_of(rig.shelf.folder)
        with qtbot.waitSignal(rig.shelf.troubled, timeout=HANG):
            rig.shelf.open()
        close(rig, path)
        told = said(rig, "The run is kept in ")
        qtbot.waitUntil(lambda: bool(told()), timeout=HANG)
        assert told() == [
            f"The run is kept in {path}. The library's list does not name it yet (another benchlog has the "
            "library): run and part readings are copied there when benchlog next opens the library."
        ]
        assert listed(other) == 0
    with Library.open(rig.shelf.folder) as later:
        assert listed(later) == 1
    assert len(query.readings(path, 1)) == 5


@needs_limits
def test_a_full_disk_is_one_sentence_loses_nothing_and_hinders_no_cut(rig: Rig, qtbot: QtBot) -> None:
    with qtbot.waitSignal(rig.shelf.opened, timeout=HANG):
        rig.shelf.open()
    path = run_of(rig.shelf.folder)
    rig.live()
    told = said(rig, "The run is kept in ")
    with disk_full():
        qtbot.keyClick(rig.frame, Qt.Key.Key_F12)
        assert len(rig.link.of(messages.Cut)) == 1
        for _ in range(2):
            # Whoever writes says so again and again; it stands there once.
            rig.link.say(
                messages.Notice(place="run.db", problem="the disk is full", fix="make room", grave=True)
            )
        close(rig, path)
        qtbot.waitUntil(lambda: bool(told()), timeout=HANG)
    assert said(rig, "run.db")() == ["run.db: the disk is full; make room."]
    assert len(told()) == 1
    close(rig, path)
    counts: list[int] = []
    rig.shelf.edit(listed, counts.append)
    qtbot.waitUntil(lambda: bool(counts), timeout=HANG)
    assert counts == [1]
    assert len(query.readings(path, 1)) == 5
