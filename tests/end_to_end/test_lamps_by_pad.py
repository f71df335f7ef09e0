"""Up a ladder of lamps by the number pad: off, change, on; a change that is not done; another lamp than the plan's."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from driven import BREATH, Driven
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from route import Camera, begin, intake

from benchlog.domain.stages import State
from benchlog.window import words
from benchlog.window.powerup_page import PowerUpPage

ENTER, NOT_DONE, OFF = Qt.Key.Key_Enter, Qt.Key.Key_Slash, Qt.Key.Key_Asterisk


class Blind(Camera):
    """Takes no pictures."""

    def take(self, driven: Driven, station: str) -> None:
        driven.settle()


@pytest.fixture
def ladder(monkeypatch: pytest.MonkeyPatch, qapp: QApplication, tmp_path: Path) -> Iterator[Driven]:
    monkeypatch.setenv("BENCHLOG_MUTE", "1")
    driven = Driven.simulating(tmp_path / "workshop", "lamp-ladder", speed=5.0)
    yield driven
    driven.close()


def off_to_change(driven: Driven) -> str:
    """Ask for the next stage, switch off as asked, and come to the change: what the card says then."""
    driven.climb(lambda: driven.view.state is State.GOING_OFF)
    driven.until(lambda: driven.asked_for("switch_off"), "the question for the switch")
    assert driven.hand(do="state")["live"] is True
    driven.obey()
    driven.until(lambda: driven.asked_for("fit_lamp"), "the change")
    assert driven.view.state is State.CHANGING
    assert driven.hand(do="state")["live"] is False
    page = driven.frame.pages[words.POWER_UP]
    assert isinstance(page, PowerUpPage)
    page.refresh()
    return page.card.call.text


def test_a_lamp_is_changed_not_changed_and_changed_for_another(ladder: Driven, tmp_path: Path) -> None:
    intake(ladder, Blind(tmp_path, "1"))
    begin(ladder)
    assert off_to_change(ladder) == "Pull the plug, fit the 60 W lamp, plug in again."
    # Not done: the unit stands off, and what is in the socket is asked for from the first stage on.
    QTest.qWait(BREATH)
    ladder.key(NOT_DONE)
    ladder.until(lambda: ladder.view.state is State.STANDING, "the unit standing off")
    QTest.qWait(BREATH)
    ladder.key(ENTER)
    ladder.until(lambda: ladder.asked_for("fit_lamp"), "the first lamp again")
    assert ladder.view.prompt is not None
    assert ladder.view.prompt.data["watts"] == 40.0
    assert off_to_change(ladder) == "Pull the plug, fit the 60 W lamp, plug in again."
    # Another one than asked for: what it takes is not what the plan awaits, and the next stage is not offered.
    ladder.hand(do="lamp", watts=100.0)
    QTest.qWait(BREATH)
    ladder.key(ENTER)
    ladder.obey_until(lambda: ladder.view.state is State.DWELLING, "the second stage")

    def awaited() -> dict[str, bool]:
        return {what: holds for what, holds, _ in ladder.view.stage.waits} if ladder.view.stage else {}

    others = "+B as expected"
    ladder.until(lambda: awaited().get("dwell 30 s") and awaited()[others], "the dwell and the rails")
    assert awaited()["lamp between 35.00 V and 65.00 V"] is False
    assert ladder.view.state is State.DWELLING
    ladder.key(OFF)
    ladder.obey_until(lambda: ladder.view.seen_off, "the off")
    assert ladder.view.trip is None
