"""An adjustment in the window: pointers, the tone that follows the figure in hand, what is not yet to be believed."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.parts_rig import Ear
from helpers.powerup_rig import SENTENCES, PowerUpRig, told_cold
from pytestqt.qtbot import QtBot

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.plan_long import adjust
from benchlog.domain.sixnumbers import MeterAtHand, SixNumbers
from benchlog.domain.trim import BEHIND_LAMP, Stand
from benchlog.recorder.client import messages
from benchlog.window.adjust_view import TrimFace
from benchlog.window.homing import LONGEST, TOUCH_EVERY
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.shapes import Shape

METERS = tuple(
    MeterAtHand(job, mains_side=job == "mains")
    for job in ("idle L", "idle R", "offset L", "offset R", "mains", "+B", "-B")
)
SIX = SixNumbers(230.0, 44.0, True, 2, 0.0165, 0.33, 0.0, METERS)
ADJUST = adjust(SIX, "mains relay")


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    yield made
    made.close()


def live(rig: PowerUpRig, plan: Plan = ADJUST, index: int = 2) -> Ear:
    """On at a stage of the plan, with an ear that writes down what it homes on."""
    ear = Ear()
    rig.work.voice = ear
    rig.bench()
    rig.runner.load_plan(textfile.write(plan), "plan.toml")
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    told_cold(rig.runner.view)
    rig.runner.prove()
    rig.link.answer(messages.Prove, said=["proven"])
    rig.runner.arm("folder")
    rig.link.answer(messages.Arm, session=rig.session)
    rig.event("on", "switched on", done=True)
    stands(rig, plan, index)
    return ear


def stands(rig: PowerUpRig, plan: Plan, index: int) -> None:
    for state in ("standing", "dwelling"):
        said = messages.Stage(t=int(rig.t * 1e9), state=state, index=index, name=plan.stage[index].name)
        rig.link.say(said)


def read(rig: PowerUpRig, **values: float | None) -> None:
    """Each named trace reads this now: `idle_L=0.0165`."""
    for name, value in values.items():
        rig.read(name.replace("_", " "), value)
    rig.page.refresh()


def face(rig: PowerUpRig, name: str) -> TrimFace:
    (found,) = [one.face for one in rig.page.desk.adjust.gauges if one.face.face.name == name]
    return found


def test_each_figure_stands_with_its_band_its_place_and_its_current(rig: PowerUpRig) -> None:
    live(rig)
    read(rig, idle_L=0.0165, idle_R=0.0300, offset_L=0.001, offset_R=0.001, mains=231.0)
    left, right = face(rig, "idle L"), face(rig, "idle R")
    assert (left.stands.stand, right.stands.stand) == (Stand.WITHIN, Stand.HIGH)
    assert left.band == "15.68 to 17.32 mV"
    assert left.beside.startswith("50 mA across one 0.33")
    assert (left.here, face(rig, "offset L").here) == (True, False)
    assert "mains 231.0 V" in rig.page.desk.adjust.beside.text()
    assert not rig.page.desk.graph.isVisible()
    # What has a pointer needs no numeral beside it.
    assert {one.face.face.name for one in rig.page.desk.numerals.shown} == {"mains", "+B", "-B"}


def test_the_tone_takes_what_is_off_first_follows_it_and_rests_the_runaway(rig: PowerUpRig) -> None:
    ear = live(rig)
    read(rig, idle_L=0.0165, idle_R=0.0300)
    rig.page.act(Action.HOMING)
    read(rig, idle_R=0.0300)
    assert rig.page.adjusting.homing.trace == "idle R"
    assert len(rig.link.of(messages.Trimmer)) == 1
    read(rig, idle_R=0.0180)
    far, near = ear.homed[0], ear.homed[-1]
    assert far is not None
    assert near is not None
    assert 0.0 < near < far
    read(rig, idle_R=0.0165)
    assert ear.homed[-1] == 0.0
    rig.now += TOUCH_EVERY + 1.0
    read(rig, idle_R=0.0165)
    assert len(rig.link.of(messages.Trimmer)) == 2
    rig.page.act(Action.SIDE)
    assert rig.page.adjusting.homing.trace == "idle L"
    rig.page.act(Action.HOMING)
    assert (rig.page.adjusting.homing.on, ear.homed[-1]) == (False, None)


def test_a_figure_that_is_lost_is_silent_and_never_looks_good(rig: PowerUpRig) -> None:
    ear = live(rig)
    read(rig, idle_L=0.0165, idle_R=0.0165)
    rig.page.act(Action.HOMING)
    read(rig, idle_L=0.0165)
    assert ear.homed[-1] == 0.0
    rig.now += 4.0
    rig.page.refresh()
    assert ear.homed[-1] is None
    gauge = next(one for one in rig.page.desk.adjust.gauges if one.face.face.name == "idle L")
    assert gauge.shape is Shape.NOTHING
    assert "no news" in gauge.face.face.wrong


def test_the_tone_ends_by_itself_and_with_the_run(rig: PowerUpRig) -> None:
    ear = live(rig)
    read(rig, idle_L=0.0300)
    rig.page.act(Action.HOMING)
    rig.now += LONGEST + 1.0
    read(rig, idle_L=0.0300)
    assert (rig.page.adjusting.homing.on, ear.homed[-1]) == (False, None)
    rig.page.act(Action.HOMING)
    rig.event("off", "cut by the operator", why="cut")
    rig.page.refresh()
    assert not rig.page.adjusting.homing.on


def test_behind_a_lamp_a_figure_in_its_band_is_not_yet_good(rig: PowerUpRig) -> None:
    behind = replace(ADJUST, source=replace(ADJUST.source, lamp_watts=100.0))
    live(rig, behind)
    read(rig, idle_L=0.0165)
    gauge = next(one for one in rig.page.desk.adjust.gauges if one.face.face.name == "idle L")
    assert (gauge.face.settled, gauge.shape) == (BEHIND_LAMP, Shape.DOUBT)
