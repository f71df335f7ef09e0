"""A lamp larger than the plan's takes too little of what is applied, and is told of once a stage."""

import pytest
from helpers.stepped import Stepped
from helpers.watched import HALL, LAMP, MAINS, PLUS, PoweredUp, plan_of

from benchlog.domain.lamp_fitted import FOR, LampFitted
from benchlog.domain.reference import Reference, Stood

WALL = HALL.replace("lamp_watts=100.0", "lamp_watts=40.0")
RUNGS = (
    "name='40 W', fraction=1.0, dwell=10.0, lamp_watts=40.0",
    "name='100 W', fraction=1.0, dwell=10.0, lamp_watts=100.0",
    "name='direct', fraction=1.0, dwell=10.0, lamp_watts=0.0",
)
KNOWN = Reference("2026-05-03", (Stood(230.0, 40.0, lamp=46.0, rails={"+B": 35.0}),))


class Looked(PoweredUp):
    """A run whose lamp is looked at each time that its stages are."""

    def __init__(self, known: Reference | None = None) -> None:
        super().__init__(plan_of(MAINS, LAMP, PLUS, source=WALL, stages=RUNGS))
        self.guard.reference = known
        self.fitted = LampFitted(self.guard)
        self.told: list[str] = []
        self.next()
        self.do(self.stages.was_changed(True, self.t))
        self.switched_on()

    def tick(self) -> None:
        super().tick()
        said = self.fitted.look(self.stages, self.t)
        self.told += [said] if said else []


def test_by_the_plans_watts_a_lamp_that_takes_half_is_told_of_once() -> None:
    run = Looked()
    run.play(90.0, {"mains": 230.0, "lamp": 48.0, "+B": 34.0})
    assert run.told == [
        "a larger lamp than the plan's 40 W may be fitted: "
        "lamp 48.00 V, about 85 V expected, unless the unit draws little"
    ]


def test_a_good_run_of_this_unit_goes_before_the_table() -> None:
    run = Looked(KNOWN)
    run.play(60.0, {"mains": 230.0, "lamp": 44.0, "+B": 34.0})
    assert run.told == []
    run = Looked(KNOWN)
    run.play(60.0, {"mains": 230.0, "lamp": 24.0, "+B": 38.0})
    assert run.told == [
        "a larger lamp than the plan's 40 W may be fitted: lamp 24.00 V, 46.00 V in the run of 3 May 2026"
    ]


def test_a_lamp_that_takes_what_it_should_or_more_is_nothing_to_tell() -> None:
    run = Looked()
    run.play(60.0, {"mains": 230.0, "lamp": 80.0, "+B": 28.0})
    run.play(30.0, {"mains": 230.0, "lamp": 110.0, "+B": 22.9})
    assert run.told == []


def test_what_is_low_for_a_moment_is_nothing_to_tell() -> None:
    run = Looked()
    run.play(30.0, {"mains": 230.0, "lamp": 80.0, "+B": 28.0})
    run.play(FOR - 2.0, {"mains": 230.0, "lamp": 40.0, "+B": 28.0})
    run.play(30.0, {"mains": 230.0, "lamp": 80.0, "+B": 28.0})
    assert run.told == []


def test_where_a_rail_is_missing_the_lamp_is_not_what_is_doubted() -> None:
    run = Looked()
    run.play(60.0, {"mains": 230.0, "lamp": 48.0, "+B": 0.0})
    assert run.told == []


def test_of_a_source_that_is_turned_down_the_table_says_nothing() -> None:
    run = Looked()
    run.play(60.0, {"mains": 115.0, "lamp": 10.0, "+B": 18.0})
    assert run.told == []


@pytest.mark.parametrize("example", ["amplifier", "by-hand", "lamp-ladder"])
def test_the_examples_go_up_without_a_word_of_it(example: str) -> None:
    run = Stepped(example, 3, dwell=0.4)
    fitted = LampFitted(run.run.guard)
    run.begin()
    for stage in range(len(run.plan.stage)):
        assert run.climb(until=stage)
        for _ in range(15):
            run.live(0.5)
            assert fitted.look(run.run.stages, run.run.t) == ""
    assert run.run.stages.index == len(run.plan.stage) - 1
