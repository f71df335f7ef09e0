"""Parts read by keys beside a live run, on a real recorder and a simulated bench; Esc cuts from there."""

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from driven import Driven, offer_of
from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QWidget
from route import SIZES, begin

from benchlog.commands.simulated import Simulated
from benchlog.domain.reading import Function
from benchlog.store import query_unit
from benchlog.window import words
from benchlog.window.foot import CutButton, faces_of
from benchlog.window.parts_in_hand import VOLTS_ONLY
from benchlog.window.parts_page import PartsPage
from benchlog.window.run_view import Phase

UNIT = """file = "benchlog unit 1"
name = "Regulator board"
[[board]]
name = "Board"
[[board.part]]
designator = "R101"
kind = "resistor"
function = "volts_dc"
[[board.part]]
designator = "R102"
kind = "resistor"
function = "volts_dc"
[[board.part]]
designator = "R103"
kind = "resistor"
should_read = "680R 5%"
from = "sheet"
"""
RAILS = ("regulated +", "regulated -")


@pytest.fixture
def board(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Driven]:
    monkeypatch.setenv("BENCHLOG_MUTE", "1")
    simulated = Simulated("board", "healthy", 10.0, tmp_path / "witness.jsonl", played=True)
    offer = replace(offer_of("board", simulated.bench_of("board")), unit_text=UNIT)
    player = [sys.executable, "-m", "benchlog.simbench.ear", simulated.control]
    driven = Driven(tmp_path / "workshop", offer, simulated.hands, rate=10.0, player=player)
    driven.simulated = simulated
    yield driven
    driven.close()


def page_of(driven: Driven) -> PartsPage:
    page = driven.frame.pages[words.PARTS]
    assert isinstance(page, PartsPage)
    return page


def to_parts_while_live(driven: Driven) -> None:
    """Bring the board to its first stage, then go to the Parts page."""
    driven.key(Qt.Key.Key_F2)
    driven.click("take the demo's unit")
    driven.until(lambda: driven.program.shelf.visit is not None, "the visit")
    driven.key(Qt.Key.Key_F3)
    driven.until(lambda: driven.view.live, "the first reading")
    begin(driven)
    driven.until(lambda: driven.view.is_live and driven.view.live["regulated +"].value, "a live rail")
    driven.key(Qt.Key.Key_F4)
    driven.until(lambda: page_of(driven).hand.row is not None, "the first part")


def in_sight(driven: Driven, widget: QWidget) -> bool:
    """Whether all of a widget lies in the window with nothing cut off."""
    inside = QRect(widget.mapTo(driven.frame, QPoint(0, 0)), widget.size())
    whole = widget.visibleRegion().boundingRect() == widget.rect()
    return widget.isVisible() and whole and driven.frame.rect().contains(inside)


def guard_in_sight(driven: Driven, size: QSize) -> None:
    """Stage, state, rails and CUT can be seen at this size of the window."""
    driven.frame.resize(size)
    driven.settle()
    assert driven.frame.size() == size
    page = page_of(driven)
    said = page.guard.accessibleName()
    assert said.startswith("The unit is live: stage 1 of 3, "), said
    assert said.endswith(", 10 V."), said
    assert in_sight(driven, page.guard)
    assert page.guard.sizeHint().width() <= page.guard.width(), "all of it can be read"
    (cut,) = driven.frame.findChildren(CutButton)
    assert in_sight(driven, cut)
    shown = {face.name for face in faces_of(driven.view, driven.program.work.now())}
    assert shown.issuperset(RAILS)
    tiles = [tile for name, tile in driven.frame.foot._tiles.items() if name in RAILS]
    assert len(tiles) == len(RAILS)
    assert all(in_sight(driven, tile) for tile in tiles)


def wait_for_reading(driven: Driven, at: int, part: str) -> None:
    """Wait until a reading of the part at that row is kept."""
    driven.until(lambda: page_of(driven).hand.book.rows[at].kept is not None, f"a reading of {part}")


def test_volts_are_taken_ohms_refused_and_escape_cuts(board: Driven) -> None:
    to_parts_while_live(board)
    hand = page_of(board).hand
    assert hand.sentence == VOLTS_ONLY
    for size in reversed(SIZES):
        guard_in_sight(board, size)
    for part in ("R101", "R102"):
        row = hand.row
        assert row is not None
        assert row.designator == part
        board.hand(do="probe", part=part)
        board.key(Qt.Key.Key_Enter)
        wait_for_reading(board, row.at, part)
        board.key(Qt.Key.Key_Plus)
    assert hand.row is not None
    assert hand.row.designator == "R103"
    board.key(Qt.Key.Key_Enter)
    assert hand.sentence == "The unit is live: only volts are read now, and R103 wants ohms."
    assert hand.waiting is None
    assert board.view.is_live
    assert any(board.hand(do="state")["outputs"])
    board.key(Qt.Key.Key_Escape)
    board.until(lambda: board.view.off_at is not None, "the off")
    assert board.view.off_why == "cut"
    board.until(lambda: not any(board.hand(do="state")["outputs"]), "the outputs off")
    board.until(lambda: board.view.seen_off, "seen off")
    board.phase(Phase.CLOSED)
    (unit,) = query_unit.units(board.program.shelf.folder)
    (visit,) = query_unit.visits(board.program.shelf.folder, unit.id)
    (round_,) = query_unit.rounds(board.program.shelf.folder, visit.id)
    kept = [one.reading for one in query_unit.round_results(board.program.shelf.folder, round_.id)]
    assert {(one.designator, one.function) for one in kept} == {
        ("R101", Function.VOLTS_DC),
        ("R102", Function.VOLTS_DC),
    }
    assert all(one.session for one in kept), "each says in which run it was taken"
