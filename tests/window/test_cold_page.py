"""The cold checks in the window: asked on the card one by one, listed, taken back, overridden where a key can."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PLAN, SENTENCES, PowerUpRig, enter
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from pytestqt.qtbot import QtBot

from benchlog.domain.cold_checks import SHORT, ColdCheck, ColdReading
from benchlog.recorder.client import messages
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.run_view import Phase
from benchlog.window.shapes import Shape

SOAK = PLAN.replace("[source]", 'kind = "soak"\ncold = []\n\n[source]', 1)
TWO = PLAN.replace("[source]", 'cold = ["earth", "speakers"]\n\n[source]', 1)


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    made.bench()
    yield made
    made.close()


def load(rig: PowerUpRig, text: str, *readings: ColdReading, same_unit: bool = True) -> None:
    """Have a plan checked, with what was read of the unit."""
    rig.runner.load_plan(text, "plan.toml", cold=readings, same_unit=same_unit)
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    rig.page.refresh()


def act(rig: PowerUpRig, action: Action) -> None:
    """A key, once what is asked has stood for a while."""
    rig.page.refresh()
    rig.now += 1.0
    rig.page.act(action)
    rig.page.refresh()


def digit(rig: PowerUpRig, text: str) -> None:
    key = Qt.Key(ord(text))
    event = QKeyEvent(QKeyEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, text)
    assert rig.page.typed(event)
    rig.page.refresh()


def shapes(rig: PowerUpRig) -> list[Shape | None]:
    return [line.shape for line in rig.page.check.cold.lines]


def sent(rig: PowerUpRig) -> messages.Arm:
    """Prove, begin: what the recorder is asked for."""
    enter(rig)
    rig.link.answer(messages.Prove, said=["proven"])
    enter(rig)
    (request,) = rig.link.of(messages.Arm)
    assert isinstance(request, messages.Arm)
    return request


def test_every_check_of_a_first_power_up_is_asked_by_one_key_before_the_proof(rig: PowerUpRig) -> None:
    load(rig, PLAN)
    assert shapes(rig) == [Shape.TO_DO] * len(ColdCheck)
    for at, _check in enumerate(ColdCheck, start=1):
        assert rig.page.card.call.detail.startswith(f"Cold check {at} of 10.")
        assert not rig.link.of(messages.Prove)
        act(rig, Action.GO)
    assert shapes(rig) == [Shape.GOOD] * len(ColdCheck)
    assert rig.page.card.call.enter == "prove it"
    request = sent(rig)
    assert [(one.check, one.holds, one.by) for one in request.cold] == [
        (one, True, "told") for one in ColdCheck
    ]


def test_a_no_is_named_and_may_be_mended_or_overridden(rig: PowerUpRig) -> None:
    load(rig, TWO)
    act(rig, Action.GO)
    act(rig, Action.NO)
    assert shapes(rig) == [Shape.GOOD, Shape.HIGH]
    assert (rig.page.card.call.enter, rig.page.card.call.danger) == ("mended: yes", True)
    assert rig.page.row.caps[Action.OVERRIDE].isVisible()
    act(rig, Action.OVERRIDE)
    assert shapes(rig) == [Shape.GOOD, Shape.DOUBT]
    assert sent(rig).cold[1].overridden


def test_no_key_goes_on_without_an_earth_that_failed(rig: PowerUpRig) -> None:
    load(rig, TWO)
    act(rig, Action.NO)
    act(rig, Action.GO)  # the speakers are asked next, what failed comes last
    assert rig.page.card.call.text.startswith("Is protective earth continuous")
    assert not rig.page.row.caps[Action.OVERRIDE].isVisible()
    act(rig, Action.OVERRIDE)
    assert shapes(rig) == [Shape.HIGH, Shape.GOOD]
    act(rig, Action.GO)  # mended
    assert shapes(rig) == [Shape.GOOD, Shape.GOOD]


def test_what_was_read_in_this_visit_needs_no_key_and_takes_no_word(rig: PowerUpRig) -> None:
    load(rig, TWO, ColdReading("earth", 0.2, "ohm"))
    assert rig.page.check.cold.lines[0].right == "earth 0.2 Ω"
    assert rig.page.card.call.text == "Are the speakers off?"
    load(rig, TWO, ColdReading("earth", 30.0, "ohm"))
    act(rig, Action.GO)
    assert "failed, earth 30 Ω" in rig.page.card.call.text
    act(rig, Action.GO)  # read again: nothing better is there
    assert shapes(rig) == [Shape.HIGH, Shape.GOOD]
    assert rig.runner.view.phase is Phase.CHECKED
    assert not rig.link.of(messages.Prove)


def test_a_digit_asks_a_check_again(rig: PowerUpRig) -> None:
    load(rig, TWO)
    act(rig, Action.GO)
    act(rig, Action.GO)
    digit(rig, "1")
    assert rig.page.card.call.text.startswith("Is protective earth continuous")
    assert shapes(rig) == [Shape.TO_DO, Shape.GOOD]


def test_what_was_said_holds_for_the_same_unit_but_not_for_another_nor_after_a_trip(rig: PowerUpRig) -> None:
    load(rig, TWO)
    act(rig, Action.GO)
    load(rig, TWO)
    assert shapes(rig) == [Shape.GOOD, Shape.TO_DO]
    load(rig, TWO, same_unit=False)
    assert shapes(rig) == [Shape.TO_DO, Shape.TO_DO]
    act(rig, Action.GO)
    rig.link.say(messages.Trip(t=0, wire_ns=0, trace="idle L", limit="high", text="above 33 mV"))
    load(rig, TWO)
    assert shapes(rig) == [Shape.TO_DO, Shape.TO_DO]


def test_whatever_was_on_is_charged_until_somebody_looks_anew(rig: PowerUpRig) -> None:
    text = PLAN.replace("[source]", 'cold = ["discharged", "speakers"]\n\n[source]', 1)
    load(rig, text)
    act(rig, Action.GO)
    act(rig, Action.GO)
    rig.event("off", "all stages done", why="off")
    rig.closed()
    load(rig, text)
    assert shapes(rig) == [Shape.TO_DO, Shape.GOOD]


def test_of_a_soak_it_is_asked_whether_somebody_stays(rig: PowerUpRig) -> None:
    load(rig, SOAK)
    assert rig.page.card.call.text == "Do you stay with it?"
    act(rig, Action.NO)
    assert rig.page.check.cold.lines[0].text.endswith("nobody stays")
    assert sent(rig).alone


def test_the_list_has_the_words_of_each_check(rig: PowerUpRig) -> None:
    load(rig, PLAN)
    assert [line.text.partition("  ")[2] for line in rig.page.check.cold.lines] == [
        SHORT[one] for one in ColdCheck
    ]
