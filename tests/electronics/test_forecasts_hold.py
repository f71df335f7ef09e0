"""What is foretold comes true as often as is stated: over random runs of the far end's own models and meters.

Stated is 9 in 10. Of n forecasts so many come true by chance alone as a binomial law gives; the test's tolerance is
its four-standard-deviation limit below (one suite in thirty thousand would fail by chance, and the seeds are fixed).
More than 9 in 10 is allowed: an interval also covers what no curve of one time constant knows.
"""

import math
from dataclasses import dataclass, field

import pytest
from helpers.forecast_runs import falling, reformed, warming
from helpers.watched import Watched, plan_of

from benchlog.domain.plan_trace import Role
from benchlog.electronics.answering import answer
from benchlog.electronics.asked import DISCHARGE, SETTLE, Progress, Question
from benchlog.electronics.decay import COVERAGE
from benchlog.electronics.reforming import reform

FEW, MANY = range(1000, 1012), range(200)


@dataclass
class Kept:
    """How many forecasts were made, how many came true, and how wide their intervals were, as shares."""

    made: int = 0
    true: int = 0
    widths: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def take(self, what: str, low: float, value: float, high: float, scale: float) -> None:
        """One forecast against what came of it."""
        self.made += 1
        self.widths.append((high - low) / scale)
        if low <= value <= high:
            self.true += 1
        else:
            self.wrong.append(f"{what}: {low:.5g} to {high:.5g}, came {value:.5g}")

    def holds(self, least: int, narrower: float) -> None:
        """So often as stated, and often and narrow enough to be of use."""
        assert self.made >= least, f"only {self.made} forecasts were made"
        tolerance = 4.0 * math.sqrt(COVERAGE * (1.0 - COVERAGE) / self.made)
        assert self.true / self.made >= COVERAGE - tolerance, self.wrong
        assert sorted(self.widths)[len(self.widths) // 2] < narrower


def settling_holds(seeds: range, least: int) -> None:
    kept = Kept()
    for seed in seeds:
        run = warming(seed)
        for role, meter in run.read.items():
            question = Question("", SETTLE, tuple(meter.t), tuple(meter.y), digit=meter.digit, role=role)
            told = answer(question)
            if told.value is not None:
                moved = abs(meter.y[0] - run.settles[role]) + 10.0 * meter.digit
                kept.take(f"{seed} {role}", told.value[1], run.settles[role], told.value[2], moved)
    kept.holds(least, 0.5)


def discharge_holds(seeds: range, least: int) -> None:
    kept = Kept()
    for seed in seeds:
        run = falling(seed)
        told = answer(
            Question("", DISCHARGE, tuple(run.read.t), tuple(run.read.y), digit=run.read.digit)
        ).to_one
        if told is not None and run.reaches[1.0] > 0.0:
            kept.take(f"{seed}", told[1], run.reaches[1.0], told[2], run.reaches[1.0] + 1.0)
    kept.holds(least, 0.3)


def reforming_holds(seeds: range, least: int) -> None:
    kept = Kept()
    for seed in seeds:
        run = reformed(seed)
        told = reform(run.read.t, run.read.y, run.ohms, run.target, digit=run.read.digit)
        assert told.state is not Progress.RISING
        if told.to_target is not None:
            at = told.to_target
            kept.take(f"{seed}", at.low, run.reaches, at.high, run.reaches + 60.0)
    kept.holds(least, 1.0)


def test_what_settles() -> None:
    settling_holds(FEW, 6)


def test_what_discharges() -> None:
    discharge_holds(FEW, 4)


def test_what_re_forms() -> None:
    reforming_holds(FEW, 8)


@pytest.mark.long
def test_what_settles_over_two_hundred_runs() -> None:
    settling_holds(MANY, 150)


@pytest.mark.long
def test_what_discharges_over_two_hundred_runs() -> None:
    discharge_holds(MANY, 70)


@pytest.mark.long
def test_what_re_forms_over_two_hundred_runs() -> None:
    reforming_holds(MANY, 70)


def drift_is_no_runaway(seeds: range) -> None:
    for seed in seeds:
        run = warming(seed)
        meter = run.read[Role.IDLE]
        target = 0.7 * run.settles[Role.IDLE]
        limit = f"trace='idle L', kind='runaway', target={target}, count={meter.digit}"
        watched = Watched(plan_of("name='idle L', role='idle', side='left'", limits=(limit,)))
        watched.at_rest(230.0)
        for t, value in zip(meter.t, meter.y, strict=True):
            watched.now = t
            watched.give("idle L", value)
        assert not watched.trips, seed


def test_healthy_drift_is_never_called_a_runaway() -> None:
    drift_is_no_runaway(FEW[:4])


@pytest.mark.long
def test_healthy_drift_of_two_hundred_runs_is_never_called_a_runaway() -> None:
    drift_is_no_runaway(MANY)
