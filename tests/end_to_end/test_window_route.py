"""The real window by keys and mouse, on a real recorder and a simulated bench: from intake to a past run.

One window for the whole file, as a person has one for the whole day.
"""

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from driven import Driven
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from route import Camera, begin, healthy, intake, parts, past, trip

from benchlog.store import query, query_unit
from benchlog.window import words
from benchlog.window.foot import faces_of
from benchlog.window.run_view import Phase


class Blind(Camera):
    """Takes no pictures."""

    def take(self, driven: Driven, station: str) -> None:
        driven.settle()


@pytest.fixture
def camera(tmp_path: Path) -> Camera:
    return Blind(tmp_path, "1")


@pytest.fixture
def quiet(monkeypatch: pytest.MonkeyPatch, qapp: QApplication) -> None:
    monkeypatch.setenv("BENCHLOG_MUTE", "1")


@pytest.fixture
def board(quiet: None, tmp_path: Path) -> Iterator[Driven]:
    driven = Driven.simulating(tmp_path / "workshop", "board")
    yield driven
    driven.close()


def test_the_whole_route_by_keys_and_mouse(board: Driven, camera: Camera) -> None:
    for station in (intake, parts, healthy, trip, past):
        station(board, camera)
    folder = board.program.shelf.folder
    kept_runs = query.sessions(folder)
    ended = [(one.outcome, one.reason) for one in kept_runs]
    assert [outcome for outcome, _ in ended] == ["tripped", "completed"], ended
    tripped, through = kept_runs
    (unit,) = query_unit.units(folder)
    assert {through.unit, tripped.unit} == {unit.id}
    (visit,) = query_unit.visits(folder, unit.id)
    (round_,) = query_unit.rounds(folder, visit.id)
    kept = query_unit.round_results(folder, round_.id)
    assert len({one.reading.designator for one in kept}) == 7
    assert all(one.judgement is not None for one in kept)


def live(driven: Driven, camera: Camera) -> None:
    """Bring the board to its first stage."""
    intake(driven, camera)
    begin(driven)
    driven.until(lambda: driven.view.is_live and driven.view.live["regulated +"].value, "a live rail")


def test_a_recorder_that_dies_is_told_and_nothing_is_taken_for_off(board: Driven, camera: Camera) -> None:
    live(board, camera)
    os.kill(board.program.link.pid, signal.SIGKILL)
    board.until(lambda: board.view.phase is Phase.OFF, "the end of the run")
    screen = board.frame.cut_screen
    board.until(screen.isVisible, "the cut screen")
    assert screen.keep_out.text().startswith("Treat it as live") or board.view.seen_off
    board.until(lambda: not any(board.hand(do="state")["outputs"]), "the cut without a recorder")


def test_a_meter_that_falls_silent_never_looks_good_and_trips(
    quiet: None, tmp_path: Path, camera: Camera
) -> None:
    board = Driven.simulating(tmp_path / "workshop", "board", "silent-meter")
    live(board, camera)

    def wrong() -> list[str]:
        return [face.name for face in faces_of(board.view, board.program.work.now()) if face.wrong]

    board.climb(lambda: board.view.trip is not None or bool(wrong()))
    board.until(wrong, "a tile that says so")
    board.climb(lambda: board.view.trip is not None)
    trip_ = board.view.trip
    assert trip_ is not None
    assert "no reading" in trip_.text
    board.until(lambda: board.view.seen_off, "the off")
    board.phase(Phase.CLOSED)
    board.close()


def test_escape_in_a_note_cuts(board: Driven, camera: Camera) -> None:
    live(board, camera)
    board.key(Qt.Key.Key_Plus)
    board.write("hum")
    board.key(Qt.Key.Key_Escape)
    board.until(lambda: board.view.off_at is not None, "the off")
    assert board.view.off_why == "cut"
    board.until(lambda: board.view.seen_off, "seen off")
    assert board.frame.whole.currentWidget() is board.frame.cut_screen
    board.phase(Phase.CLOSED)
    board.key(Qt.Key.Key_Enter)
    assert board.frame.page.title == words.POWER_UP
