"""What the window says of each reservoir after off: how the recorder says it stands, and a forecast only of a fall."""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig, acts, answers, enter
from pytestqt.qtbot import QtBot

from benchlog.domain.discharge import MEASURE
from benchlog.recorder.client import messages
from benchlog.window.after_cut import story_of
from benchlog.window.call import call_of, tail_in_words
from benchlog.window.charges import NEVER_TRUST, UNTIL_MEASURED, Charge, charges_of
from benchlog.window.key_row import closes
from benchlog.window.keys import Action
from benchlog.window.look import Look

LOW = "under 1 V, seen to decay from above 5 V"


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path)
    qtbot.addWidget(made.window)
    made.window.show()
    made.climb(1, seconds=1.0)
    made.trip("lamp 152 V, above its limit of 80.5 V")
    made.off("trip", "lamp 152 V, above its limit of 80.5 V")
    yield made
    made.close()


def fall(rig: PowerUpRig, start: float, seconds: float = 6.0, tau: float = 20.0) -> None:
    """Let +B fall so; a tau of infinity stands."""
    begun = rig.t
    while rig.t < begun + seconds:
        rig.t += 0.5
        rig.now += 0.5
        rig.read("+B", start * math.exp(-(rig.t - begun) / tau))


def stands(rig: PowerUpRig, charge: str, said: str) -> None:
    rig.event("discharge", f"+B: {said}", trace="+B", charge=charge, said=said, volts=None)


def plus(rig: PowerUpRig) -> Charge:
    return next(one for one in charges_of(rig.runner.view, rig.now) if one.name == "+B")


def test_that_it_falls_is_said_only_while_it_is_measured_falling(rig: PowerUpRig) -> None:
    fall(rig, 30.0)
    assert plus(rig).words == "still charged"
    stands(rig, "falling", "falling")
    # Nobody makes forecasts here: no time to a volt.
    assert plus(rig).words == "falling"
    stands(rig, "not proven", f"not proven, never seen above 5 V: {MEASURE}")
    assert plus(rig).words == "still charged; never seen above 5 V"
    stands(rig, "still charged", "still charged, not seen to fall")
    assert plus(rig).words == "still charged, not seen to fall"


def test_low_is_said_only_where_it_was_seen_to_decay(rig: PowerUpRig) -> None:
    rig.read("+B", 0.4)
    assert (plus(rig).words, plus(rig).low) == ("not proven; measure at its own terminals", False)
    stands(rig, "not proven", f"not proven, it stepped to 0.40 V: {MEASURE}")
    assert (plus(rig).words, plus(rig).low) == ("not proven, it stepped to 0.40 V", False)
    stands(rig, "decayed", LOW)
    assert (plus(rig).words, plus(rig).low) == (LOW, True)
    rig.read("+B", 1.4)
    stands(rig, "rebound", "rebound to 1.40 V")
    assert (plus(rig).words, plus(rig).low) == ("rebound to 1.40 V", False)


def test_a_number_that_is_old_is_never_low(rig: PowerUpRig) -> None:
    rig.read("+B", 0.4)
    stands(rig, "decayed", LOW)
    rig.now += 30.0
    assert (plus(rig).stale, plus(rig).low) == (True, False)
    assert plus(rig).words == "no news for 30 s; measure at its own terminals"


def test_after_the_close_nobody_judges_any_more(rig: PowerUpRig) -> None:
    stands(rig, "decayed", LOW)
    rig.read("-B", 0.2)
    rig.closed("tripped", "lamp 152 V")
    rig.read("+B", 0.4)
    assert plus(rig).words == "was seen to decay; measure at its own terminals"
    minus = next(one for one in charges_of(rig.runner.view, rig.now) if one.name == "-B")
    assert minus.words == "not seen to decay; measure at its own terminals"
    # -B is low and was not seen to fall: nobody knows, and that is no charge that stands there.
    assert call_of(rig.runner.view, rig.now, {}).detail.endswith(UNTIL_MEASURED)
    rig.read("+B", 1.4)
    assert plus(rig).words == "still charged"
    assert call_of(rig.runner.view, rig.now, {}).detail.endswith("The reservoirs are still charged.")


def test_whatever_was_seen_the_page_never_trusts_itself(rig: PowerUpRig) -> None:
    for name in ("+B", "-B"):
        rig.read(name, 0.3)
        rig.event("discharge", f"{name}: {LOW}", trace=name, charge="stayed low", said=LOW, volts=0.3)
    story = story_of(rig.runner.view, rig.now)
    assert story.never_trust == NEVER_TRUST
    assert story.keep_out == UNTIL_MEASURED


def test_the_question_after_a_minute_is_asked_and_answered(rig: PowerUpRig) -> None:
    rig.prompt("rebound", "A minute later: is each capacitor under 1 V?", seconds=60.0)
    assert "Leave this page to answer" in story_of(rig.runner.view, rig.now).next
    call = call_of(rig.runner.view, rig.now, {})
    assert (call.enter, call.no, call.detail) == (
        "all under 1 V",
        "not all",
        "Charge comes back: never trust the screen alone, measure.",
    )
    enter(rig)
    assert answers(rig)[-1][1] is True


def test_a_run_whose_reservoirs_are_up_closes_when_that_is_asked(rig: PowerUpRig) -> None:
    stands(rig, "falling", "falling")
    rig.page.refresh()
    rig.page.act(Action.OFF)
    assert acts(rig)[-1][0] == "close"


def test_a_persons_word_is_enough_to_close(rig: PowerUpRig) -> None:
    view = rig.runner.view
    view.cuts.clear()
    assert not closes(view)
    rig.event("told", "told: the unit is off", prompt="switch_off", done=True)
    assert closes(view)
    assert tail_in_words(view).endswith("close it whenever you like")


def test_the_arming_asks_to_follow_the_reservoirs(rig: PowerUpRig) -> None:
    (arm,) = rig.link.of(messages.Arm)
    assert isinstance(arm, messages.Arm)
    assert arm.to_discharge


def test_a_dial_that_is_back_after_the_close_is_told_to_the_runs_file(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.prompt("set_dial", "Turn the variable transformer back to zero.", fraction=0.0, after=True)
    rig.closed("tripped", "lamp 152 V")
    with qtbot.waitSignal(rig.runner.said_late) as said:
        enter(rig)
    path, t, text = said.args
    assert (path, text) == (rig.session, "The variable transformer is back at zero.")
    assert t == rig.runner.view.moments[-1].t
