"""The leads are nulled from the Parts page: read shorted, taken off from then on, and said with their age."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from benchlog.errors import BadInput
from benchlog.recorder.client import messages
from benchlog.window.keys import Action
from benchlog.window.look import Look

# The offscreen platform says of every window with a least size that it cannot hand it on.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.open_bench()
    yield made
    made.close()


def leads(rig: FakeRig) -> str:
    return rig.page._leads.text()


def test_shorted_leads_are_read_and_taken_off(rig: FakeRig) -> None:
    assert leads(rig) == "leads not nulled"
    QTest.mouseClick(rig.page._leads, Qt.MouseButton.LeftButton)
    (request,) = rig.link.of(messages.Take)
    assert isinstance(request, messages.Take)
    assert (request.job, request.designator, request.function) == ("parts meter", "leads", "ohms")
    message = rig.taken(0.118)
    assert rig.kept() == [message.reading], "it belongs to no part, and nobody else will keep it"
    (null,) = rig.link.of(messages.Null)
    assert isinstance(null, messages.Null)
    assert (null.job, null.value, null.utc) == ("parts meter", 0.118, message.utc)
    rig.link.answer(messages.Null)
    hand = rig.page.hand
    began = datetime.fromisoformat(message.utc).astimezone(UTC)
    assert hand.null_of_meter(began + timedelta(minutes=5)) == "leads nulled: 0.118 Ω, 5 min ago"
    assert hand.null_of_meter(began + timedelta(minutes=61)) == "leads nulled an hour ago"
    assert rig.stored() == []


@pytest.mark.parametrize(("value", "sent"), [(0.03, 0.15), (-0.12, 0.0), (-0.2, -0.08)])
def test_what_was_taken_off_already_belongs_to_the_leads(rig: FakeRig, value: float, sent: float) -> None:
    rig.page.act(Action.NULL_LEADS)
    (request,) = rig.link.of(messages.Take)
    assert isinstance(request, messages.Take)
    rig.link.say(
        messages.Taken(
            reading=request.reading,
            designator="leads",
            part="",
            job=request.job,
            function="ohms",
            outcome="ok",
            value=value,
            unit="ohm",
            raw="",
            utc="2026-01-01T10:00:00.000Z",
            nulled=0.12,
        )
    )
    (null,) = rig.link.of(messages.Null)
    assert isinstance(null, messages.Null)
    assert null.value == pytest.approx(sent)


def test_leads_that_are_open_are_not_nulled(rig: FakeRig) -> None:
    rig.page.act(Action.NULL_LEADS)
    rig.taken(None)
    assert rig.page.hand.sentence == "The leads read nothing steady: hold the tips together, and try again."
    assert rig.link.of(messages.Null) == []
    assert rig.ear.heard == [("refused",)]


def test_what_the_recorder_refuses_is_said(rig: FakeRig) -> None:
    rig.page.act(Action.NULL_LEADS)
    rig.taken(4.0)
    rig.link.refuse(
        messages.Null, BadInput("null", "parts meter reads 4 Ω on its shorted leads", "clean them")
    )
    assert rig.page.hand.sentence == "null: parts meter reads 4 Ω on its shorted leads; clean them."
    assert leads(rig) == "leads not nulled"


def test_a_meter_that_gives_nothing_is_awaited_no_longer(rig: FakeRig) -> None:
    rig.page.act(Action.NULL_LEADS)
    rig.page.act(Action.NULL_LEADS)
    assert rig.page.hand.sentence == "The leads are still being read: hold the tips together."
    rig.page.act(Action.GO)
    assert len(rig.link.of(messages.Take)) == 1
    rig.link.say(messages.Notice(place="parts meter", problem="gave no reading to take"))
    assert rig.page.hand.sentence == "parts meter: gave no reading to take."
    rig.page.act(Action.NULL_LEADS)
    assert len(rig.link.of(messages.Take)) == 2


def test_without_a_meter_it_says_what_is_missing(qtbot: QtBot, look: Look, tmp_path: Path) -> None:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.page.act(Action.NULL_LEADS)
    assert made.page.hand.sentence == "No walking meter is on the bench: open a bench (F3)."
    assert not made.page._leads.isVisibleTo(made.page)
    made.close()
