"""A day of dwell trips nothing that is sound, or poor and safe: whole plans, whole trust, meters as they are.

Units differ by their seed, the mains wander by 3 % either way, slowly, quickly and in steps, meters of 4000 counts read
out of step with each other, miss a reading now and then and flash where they change their range, and the idle comes
from cold to hot.
"""

import random
from dataclasses import dataclass, replace

import pytest
from helpers.stepped import CHEAP, MILLIVOLTS, Meddled, Stepped

from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.plan_trace import Role
from benchlog.simbench.amplifier import Amplifier

DAY = 24 * 3600.0
SHORT = 600.0
WANDER = 0.02
"""Slow part of the mains; the quick one, and steps of a heavy load next door, make 3 % of it."""
MISSED = 0.002
"""Part of the readings that never arrive: of some meter two in a row about once a day.

Three in a row of a slow meter are a meter that is lost, and trip as they should.
"""
STEPS = (-0.005, 0.0, 0.005)
STEP_EVERY = 200.0


def and_runaway(plan: Plan) -> Plan:
    """The plan, looking for a runaway of every idle current and sink that it watches."""
    slow = [
        Limit(trace=trace.name, kind=LimitKind.RUNAWAY, target=0.0165 if trace.role is Role.IDLE else None)
        for trace in plan.trace
        if trace.role in (Role.IDLE, Role.SINK)
    ]
    others = tuple(limit for limit in plan.limit if limit.kind is not LimitKind.RUNAWAY)
    return replace(plan, limit=(*others, *slow))


@dataclass(frozen=True)
class Case:
    """A unit on a bench; `poor` has a spreader that hardly feels the sink."""

    example: str
    seed: int
    poor: bool = False

    def __str__(self) -> str:
        return f"{self.example} {self.seed}, {'poor but safe' if self.poor else 'healthy'}"


def a_bench(case: Case, pace: tuple[float, float]) -> Stepped:
    """The unit on its bench, its meters' intervals anywhere between these two."""
    chance = random.Random(case.seed)
    run = Stepped(
        case.example,
        case.seed,
        every=CHEAP,
        flashes=0.5,
        dwell=0.2,
        step=0.1,
        watching=0.5,
        remade=and_runaway,
    )
    for trace in run.plan.trace:
        fine = trace.role in (Role.IDLE, Role.OFFSET)
        kind = MILLIVOLTS if fine else CHEAP
        run.kinds[trace.name] = replace(kind, every=chance.uniform(*pace))
    model = run.model
    if isinstance(model, Amplifier):
        model.mains._wander = WANDER
        for channel in (model.left, model.right):
            channel.truth = replace(
                channel.truth,
                cold_idle=chance.uniform(0.040, 0.048),
                tracking=chance.uniform(0.0, 0.3) if case.poor else chance.uniform(0.7, 1.0),
                spreader_time=chance.uniform(30.0, 120.0),
                sink=chance.uniform(0.9, 1.3),
                offset=chance.uniform(-0.02, 0.02),
                offset_drift=chance.uniform(-5e-4, 5e-4),
            )
    return run


def rises(run: Stepped) -> list[str]:
    """What was said of a rise: a warning alone is one too many on a sound unit."""
    return [broken.text for broken in run.run.found if broken.limit == "rise"]


def dwells(case: Case, seconds: float, pace: tuple[float, float] = (0.3, 0.6)) -> Stepped:
    """Bring it to its last stage and leave it there, the mains stepping now and then."""
    run = a_bench(case, pace)
    run.begin()
    assert run.climb(), (run.trips, run.run.stages.awaited(run.run.t))
    chance = random.Random(case.seed + 1)
    end = run.run.now + seconds
    nominal = 230.0
    run.dropouts, run.step, run.watching = MISSED, 0.25, 1.0
    while run.run.now < end and not run.trips:
        run.live(min(chance.expovariate(1.0 / STEP_EVERY), end - run.run.now))
        if isinstance(run.model, Amplifier):
            run.model.mains._nominal = nominal * (1.0 + chance.choice(STEPS))
    return run


CASES = [Case(example, seed, poor) for seed, (example, poor) in enumerate(
    [("amplifier", False), ("amplifier", True), ("by-hand", False), ("by-hand", True), ("board", False)]
)]  # fmt: skip
MANY = [Case("amplifier", seed, poor) for seed in range(10, 20) for poor in (False, True)]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_dwell_trips_nothing_that_is_safe(case: Case) -> None:
    run = dwells(case, SHORT, (0.8, 2.5))
    assert run.trips == []
    assert rises(run) == []
    assert run.taken > 400


@pytest.mark.long
@pytest.mark.parametrize("case", CASES + MANY, ids=str)
def test_a_day_of_it_trips_nothing_either(case: Case) -> None:
    run = dwells(case, DAY, (0.8, 2.5))
    assert run.trips == []
    assert rises(run) == []


@pytest.mark.parametrize(
    ("each_minute", "warned", "tripped"), [(0.15, 60.0, None), (0.30, 35.0, 75.0)], ids=["15 %", "30 %"]
)
def test_the_same_dwell_finds_a_lamp_that_brightens(
    each_minute: float, warned: float, tripped: float | None
) -> None:
    run = a_bench(Case("amplifier", 3), (0.8, 2.5))
    run.begin()
    assert run.climb()
    run.live(60.0)
    start = run.run.now
    run.meddled["lamp"] = Meddled(
        change=lambda value: value * (1.0 + each_minute * (run.run.now - start) / 60.0)
    )
    run.live(120.0)
    found = [broken for broken in run.run.found if broken.limit == "rise"]
    after = {broken.action: broken.t * 1e-9 - start for broken in reversed(found)}
    assert 0.0 < after[Action.WARN] <= warned
    if tripped is None:
        assert run.trips == []
    else:
        assert after[Action.WARN] < after[Action.TRIP] <= tripped


@pytest.mark.parametrize("fault", ["slow-runaway", "bias-high"])
def test_the_same_dwell_finds_what_is_not_safe(fault: str) -> None:
    case = Case("amplifier", 3)
    run = a_bench(case, (0.8, 1.6))
    faulty = Stepped("amplifier", 3, fault)
    assert isinstance(run.model, Amplifier)
    assert isinstance(faulty.model, Amplifier)
    run.model.left.truth = faulty.model.left.truth
    run.begin()
    if run.climb():
        run.step, run.watching = 0.25, 1.0
        run.live(1.5 * SHORT)
    assert any(said.startswith("idle L ") for said in run.trips)
