"""What the window still says once a run is over: doubts, the dial, and a stage that was left early."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig, enter
from pytestqt.qtbot import QtBot

from benchlog.domain.reading import Outcome
from benchlog.domain.trust import UNPROVEN
from benchlog.recorder.client import messages
from benchlog.window.call import call_of
from benchlog.window.charges import charges_of
from benchlog.window.foot import faces_of
from benchlog.window.look import Look
from benchlog.window.shapes import Shape
from benchlog.window.tile import TileFace
from benchlog.window.waits import lines_of

BACK = "Turn the variable transformer back to zero."


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path)
    qtbot.addWidget(made.window)
    yield made
    made.close()


def tile(rig: PowerUpRig, name: str) -> TileFace:
    return next(face for face in faces_of(rig.runner.view, rig.now) if face.name == name)


def doubted(rig: PowerUpRig, doubt: str, outcome: str = Outcome.OK) -> None:
    """A run that was cut with +B in doubt, and closed; its meter reads on."""
    rig.climb(1, seconds=1.0)
    rig.event("warn", "+B is in doubt", trace="+B", doubt=doubt)
    rig.read("+B", 0.0 if outcome == Outcome.OK else None, outcome)
    rig.trip("lamp 152 V, above its limit of 80.5 V")
    rig.off("trip", "lamp 152 V, above its limit of 80.5 V")
    rig.closed("tripped", "lamp 152 V, above its limit of 80.5 V")
    rig.read("+B", 0.0)


def test_a_clip_that_was_off_is_not_known_after_the_close_until_the_next_run_begins(rig: PowerUpRig) -> None:
    doubted(rig, Outcome.FELL, Outcome.FELL)
    face = tile(rig, "+B")
    assert (face.number, face.wrong, face.brief) == ("- -", "not known: clip off?", "clip off?")
    charge = next(one for one in charges_of(rig.runner.view, rig.now) if one.name == "+B")
    assert (charge.shown, charge.stale) == ("- -", True)
    assert "+B: not known: clip off?; measure at its own terminals" in [
        line.text for line in lines_of(rig.runner.view, rig.now, {})
    ]
    rig.runner.load_plan(rig.runner.view.plan_text, "plan.toml")
    rig.link.answer(messages.LoadPlan, sentences=[])
    assert tile(rig, "+B").wrong == "not known: clip off?"
    rig.runner.prove()
    rig.link.answer(messages.Prove, said=[])
    rig.runner.arm("folder")
    rig.link.answer(messages.Arm, session=rig.session)
    assert not tile(rig, "+B").wrong


def test_a_doubt_is_gone_once_the_bench_is_attached_anew(rig: PowerUpRig) -> None:
    doubted(rig, Outcome.FELL, Outcome.FELL)
    rig.checked()
    rig.read("+B", 0.0)
    assert not tile(rig, "+B").wrong


@pytest.mark.parametrize(
    ("doubt", "outcome", "wrong"),
    [
        (UNPROVEN, Outcome.OK, UNPROVEN),
        (Outcome.FELL, Outcome.LATE, "not known: clip off?"),
        # Said by the meter with every reading, or of one reading alone: the next one is no worse for it.
        ("not live: HOLD", Outcome.NOT_LIVE, ""),
        (Outcome.FLASH, Outcome.FLASH, ""),
        # Believed again since.
        (Outcome.FELL, Outcome.OK, ""),
    ],
)
def test_which_doubts_outlive_the_close(rig: PowerUpRig, doubt: str, outcome: str, wrong: str) -> None:
    doubted(rig, doubt, outcome)
    assert tile(rig, "+B").wrong == wrong


def test_the_dial_is_asked_back_until_somebody_says_so_though_the_run_is_closed(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=1.0)
    rig.trip("lamp 152 V, above its limit of 80.5 V")
    rig.off("trip", "lamp 152 V, above its limit of 80.5 V")
    rig.prompt("set_dial", BACK, fraction=0.0, volts=0.0, after=True)
    number = rig.runner.view.prompt.prompt if rig.runner.view.prompt is not None else 0
    rig.link.say(messages.Withdrawn(prompt=number))
    rig.closed("tripped", "lamp 152 V, above its limit of 80.5 V")
    call = call_of(rig.runner.view, rig.now, {})
    assert (call.text, call.enter) == (BACK, "it is at zero")
    assert "The run tripped" in call.detail
    rig.window.show()
    enter(rig)
    assert call_of(rig.runner.view, rig.now, {}).text.startswith("The run tripped")


def test_a_dial_that_was_told_down_is_asked_for_no_more(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=1.0)
    rig.off("cut", "cut by the operator")
    rig.prompt("set_dial", BACK, fraction=0.0, volts=0.0, after=True)
    rig.event("told", "told: the variable transformer is back at zero", prompt="set_dial", done=True)
    rig.closed("ended by the operator", "cut by the operator")
    assert call_of(rig.runner.view, rig.now, {}).text.startswith("The run was ended by you")


def test_no_good_mark_stands_beside_a_trip(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=1.0)
    rig.trip("lamp 152 V, above its limit of 80.5 V")
    rig.off("trip", "lamp 152 V, above its limit of 80.5 V")
    assert call_of(rig.runner.view, rig.now, {}).shape is Shape.STOP


def test_a_stage_that_was_left_early_is_marked_so_until_it_is_done_again(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=1.0)
    rig.event("asked", "next, 12 s before the end of the dwell", act="next", early=12.0)
    rig.stage("moving", 1)
    first = rig.page._climb.rungs(rig.runner.view)[0]
    assert first.shape is Shape.LIFT
    assert first.line.endswith(", early")
    rig.stage("moving", 0)
    rig.stage("moving", 1)
    first = rig.page._climb.rungs(rig.runner.view)[0]
    assert first.shape is Shape.GOOD
