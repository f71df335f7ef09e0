"""What the Power-up page says of a capacitor that is re-formed: its current, and when that is low enough."""

import math
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from helpers.foretelling import AtOnce
from helpers.powerup_rig import PowerUpRig, told_cold
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.plan_templates import Template, plan
from benchlog.domain.reading import Function
from benchlog.domain.sixnumbers import MeterAtHand, SixNumbers
from benchlog.electronics.asked import REFORM, Answer, Progress, Question
from benchlog.recorder.client import messages
from benchlog.window.forecaster_link import ForecasterLink
from benchlog.window.forecasts import Forecasts
from benchlog.window.look import Look

OHMS, VOLTS = 10e3, 44.0
TARGET = 0.1 * 0.25 * VOLTS / OHMS
METERS = (MeterAtHand("dmm 1", Function.VOLTS_DC), MeterAtHand("probe", Function.TEMPERATURE))
PLAN = textfile.write(
    plan(Template.REFORM, SixNumbers(230.0, VOLTS, False, 1, 0.01, OHMS, 0.0, METERS), "bench supply")
)


class Reformed(PowerUpRig):
    """The page at the first stage of a re-forming, with its forecasts."""

    def __init__(self, look: Look, folder: Path) -> None:
        super().__init__(look, folder)
        self.far = AtOnce()
        self.forecasts = Forecasts(self.work, self.far)
        self.notices: list[str] = []
        self.warned: list[str] = []
        self.work.said.connect(lambda text, _grave: self.notices.append(text))
        self.work.voice = SimpleNamespace(warn=self.warned.append)

    def checked(self) -> None:
        self.bench()
        self.runner.load_plan(PLAN, "plan.toml")
        self.link.answer(messages.LoadPlan, sentences=[])
        told_cold(self.runner.view)

    def reforms(self, seconds: float, amps: Callable[[float], float]) -> None:
        """Let it take a current, a function of the seconds since now, read every ten."""
        begun = self.t
        while self.t < begun + seconds:
            self.t += 10.0
            self.now += 10.0
            self.read("drop", round(amps(self.t - begun) * OHMS + 2e-3 * math.sin(7.1 * self.t), 3))
            self.forecasts._ask()
        self.page.refresh()

    @property
    def headings(self) -> tuple[str, ...]:
        """What may stand below the digits of the drop, the longest first."""
        shown = self.page.desk.numerals.shown
        return next(one.face.headings for one in shown if one.face.face.name == "drop")

    @property
    def line(self) -> str:
        return next((one.text for one in self.page.desk.waits.lines if one.text.startswith("drop: ")), "")


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[Reformed]:
    made = Reformed(look, tmp_path)
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    made.armed()
    made.event("on", "switched on", done=True)
    made.stage("dwelling", 0, 900.0)
    yield made
    made.close()


def falling(rest: float) -> Callable[[float], float]:
    return lambda t: rest + 1.9e-3 * math.exp(-t / 900.0)


def test_the_current_and_when_it_is_low_enough_stand_by_its_drop(rig: Reformed) -> None:
    rig.reforms(90.0, falling(0.03e-3))
    assert rig.headings[0].startswith("1.75 mA, no forecast: ")
    rig.reforms(1110.0, lambda t: falling(0.03e-3)(t + 90.0))
    asked = rig.far.asked[-1]
    assert (asked.kind, asked.ohms, asked.target) == (REFORM, OHMS, pytest.approx(TARGET))
    answer = rig.runner.view.foretold["drop"].answer
    truth = 900.0 * math.log(1.9e-3 / (TARGET - 0.03e-3)) - 1200.0
    assert answer.after is not None
    assert answer.after[1] < truth < answer.after[2]
    assert answer.amps == pytest.approx(0.53e-3, rel=0.02)
    assert "µA, heading for 30 µA; under 110 µA in about 2" in rig.headings[0]
    assert rig.line == f"drop: {rig.headings[0]}"
    assert rig.notices == rig.warned == []
    rig.reforms(2400.0, lambda t: falling(0.03e-3)(t + 1200.0))
    assert rig.headings[0].endswith(" µA, under 110 µA")


def test_a_current_that_does_not_improve_is_told_once_at_a_stage(rig: Reformed) -> None:
    rig.reforms(300.0, lambda _: 1.2e-3)
    assert "no forecast" in rig.headings[0]
    assert rig.notices == []
    rig.reforms(2100.0, lambda _: 1.2e-3)
    assert rig.headings[0] == "not improving: still 1.20 mA after 40 min"
    assert len(rig.notices) == 1
    assert rig.notices[0].startswith("drop: not improving: still 1.20 mA after 1")
    assert rig.warned == rig.notices
    rig.stage("moving", 1)
    rig.page.refresh()
    assert (rig.headings, rig.line) == ((), "")
    rig.stage("dwelling", 1, 900.0)
    rig.reforms(1200.0, lambda _: 1.4e-3)
    assert len(rig.notices) == 2


def test_heading_for_more_than_it_should_is_told_as_that(rig: Reformed) -> None:
    rig.reforms(1200.0, lambda t: 0.8e-3 + 1.5e-3 * math.exp(-t / 500.0))
    assert "heading for 800 µA, not for 110 µA" in rig.headings[0]
    assert len(rig.warned) == 1


def test_a_drop_over_no_known_resistor_is_not_asked_about(rig: Reformed) -> None:
    bare = textfile.parse(PLAN.replace("ohms = 10000.0\n", ""), "plan.toml", Plan)
    assert bare != rig.runner.view.plan
    rig.runner.view.plan = bare
    rig.reforms(120.0, falling(0.0))
    assert rig.far.asked == []


def test_the_process_answers_for_a_reforming(qapp: QApplication, qtbot: QtBot) -> None:
    link = ForecasterLink()
    came: list[Answer] = []
    t = tuple(5.0 * n for n in range(240))
    drops = tuple(round(OHMS * falling(0.1e-3)(at), 3) for at in t)
    link.ask(Question("live/drop", REFORM, t, drops, digit=1e-3, ohms=OHMS, target=0.3e-3), came.append)
    link.ask(Question("live/none", REFORM, t, drops), came.append)
    qtbot.waitUntil(lambda: len(came) == 2, timeout=60_000)
    link.close()
    one, none = came
    assert (one.progress, one.target) == (Progress.FALLING, 0.3e-3)
    assert one.after is not None
    assert one.after[1] < 900.0 * math.log(1.9 / 0.2) - t[-1] < one.after[2]
    assert (none.progress, none.why) == (None, "nobody can answer that")
