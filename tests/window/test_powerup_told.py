"""What a person tells on the Power-up page: observations by a digit, spot readings by Enter and a number."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from pytestqt.qtbot import QtBot

from benchlog.domain.reading import Function
from benchlog.domain.spot import Spot
from benchlog.recorder.client import messages
from benchlog.window.keys import Action
from benchlog.window.look import Look

SPOT = Spot(name="base of Q5", function=Function.VOLTS_DC, should_read="12..15 mV")


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(683, 768)
    made.window.show()
    yield made
    made.close()


def dwelling_with_a_spot(rig: PowerUpRig) -> None:
    """At the second stage, which asks for a spot."""
    rig.climb(1, seconds=1.0)
    view = rig.runner.view
    assert view.plan is not None
    stages = list(view.plan.stage)
    stages[1] = replace(stages[1], spot=(SPOT,))
    view.plan = replace(view.plan, stage=tuple(stages))
    waits = [("dwell", False, ""), *((f"wait {n}", True, "") for n in range(len(stages[1].wait)))]
    rig.link.heard.emit(
        messages.Stage(
            t=0,
            state="dwelling",
            index=1,
            name=stages[1].name,
            waits=[*waits, ("base of Q5, should read 12..15 mV", False, "not measured yet")],
            left=9.0,
            spot=SPOT.name,
        )
    )
    rig.page.refresh()


def test_a_digit_tells_what_is_seen(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=1.0)
    event = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_4, Qt.KeyboardModifier.NoModifier, "4")
    assert rig.page.typed(event)
    (told,) = rig.link.of(messages.Observe)
    assert isinstance(told, messages.Observe)
    assert told.what == "lamp dark"


def test_a_spot_is_taken_by_the_walking_meter_with_enter_or_the_pedal(rig: PowerUpRig) -> None:
    dwelling_with_a_spot(rig)
    assert rig.page.card.call.enter == "take: parts meter"
    assert rig.page.card.call.no == "type it"
    for press in (lambda: rig.page.act(Action.GO), lambda: rig.page.tread("take")):
        before = len(rig.link.of(messages.Take))
        rig.now += 1.0
        press()
        taken = rig.link.of(messages.Take)[before:]
        assert [(one.designator, one.job, one.function) for one in taken] == [  # type: ignore[attr-defined]
            ("base of Q5", "parts meter", "volts_dc")
        ]
        rig.page.refresh()
        assert rig.page.card.call.text == "Reading base of Q5: hold the probes there."
        rig.now += 1.0
        press()
        assert len(rig.link.of(messages.Take)) == before + 1
        rig.link.say(took(rig))
        rig.page.refresh()
        assert rig.page.card.call.text == "Measure base of Q5, should read 12..15 mV."
    assert len(rig.link.of(messages.Kept)) == 2
    assert not rig.page.note.isVisible()


def took(rig: PowerUpRig) -> messages.Taken:
    """What the meter has read for the last one that was asked of it."""
    asked = rig.link.of(messages.Take)[-1]
    assert isinstance(asked, messages.Take)
    return messages.Taken(
        reading=asked.reading,
        designator=asked.designator,
        part="",
        job=asked.job,
        function=asked.function,
        outcome="ok",
        value=0.013,
        unit="V",
        raw="0.013",
        utc="2020-01-01T00:00:00Z",
    )


def test_a_meter_that_gives_no_reading_leaves_the_spot_to_be_taken_again(rig: PowerUpRig) -> None:
    dwelling_with_a_spot(rig)
    rig.now += 1.0
    rig.page.act(Action.GO)
    rig.link.say(messages.Notice(place="parts meter", problem="gave no reading to take"))
    rig.page.refresh()
    assert rig.page.card.call.enter == "take: parts meter"
    rig.now += 1.0
    rig.page.act(Action.GO)
    assert len(rig.link.of(messages.Take)) == 2


def test_without_a_walking_meter_enter_opens_the_field(rig: PowerUpRig) -> None:
    dwelling_with_a_spot(rig)
    view = rig.runner.view
    assert view.bench is not None
    view.bench = replace(view.bench, meter=tuple(one for one in view.bench.meter if one.job != "parts meter"))
    rig.page.refresh()
    assert (rig.page.card.call.enter, rig.page.card.call.no) == ("type it", "")
    rig.now += 1.0
    rig.page.act(Action.GO)
    assert rig.page.note.isVisible()


@pytest.mark.parametrize(("keys", "text"), [("13", "13"), ("4", "4"), ("/", "")])
def test_a_spot_is_asked_for_and_typed(rig: PowerUpRig, qtbot: QtBot, keys: str, text: str) -> None:
    dwelling_with_a_spot(rig)
    assert rig.page.card.call.text == "Measure base of Q5, should read 12..15 mV."
    rig.page.act(Action.NO)
    assert rig.page.note.isVisible()
    qtbot.keyClicks(rig.page.note.field, keys)
    qtbot.keyClick(rig.page.note.field, Qt.Key.Key_Enter)
    (told,) = rig.link.of(messages.Spot)
    assert isinstance(told, messages.Spot)
    assert (told.name, told.text) == ("base of Q5", text)
    assert not rig.link.of(messages.Remark)
