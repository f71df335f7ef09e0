"""What a person tells of a live unit: observations and spot readings, and a stage that waits for them."""

import pytest
from helpers.watched import DIRECT, HALL, MAINS, PLUS, PoweredUp, plan_of, state

from benchlog.domain.observed import Observation
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function
from benchlog.domain.spot import Spot, judged, typed
from benchlog.domain.stages import State
from benchlog.errors import BadInput

WATCHES = (
    "name='40 %', fraction=0.4, dwell=2.0, wait=[{observed='lamp dark'}]",
    "name='100 %', fraction=1.0, dwell=2.0, wait=[{observed='relay click'}]",
)
SPOTS = (
    "name='40 %', fraction=0.4, dwell=2.0, spot=["
    "{name='base of Q5', function='volts_dc', should_read='12..15 mV'}, {name='node 7', function='volts_dc'}]",
    "name='100 %', fraction=1.0, dwell=2.0",
)


def on_at(stages: tuple[str, ...], *traces: str, source: str = HALL) -> PoweredUp:
    """On at the first stage, and its dwell is over."""
    run = PoweredUp(plan_of(*traces, stages=stages, source=source))
    run.begin()
    run.play(10.0, dict.fromkeys(run.guard.traces, 92.0) | ({"+B": 13.8} if PLUS in traces else {}))
    return run


def holds(run: PoweredUp) -> dict[str, bool]:
    """What is awaited besides the dwell, and whether it holds."""
    return {one.what: one.holds for one in run.stages.awaited(run.t)[1:]}


class TestObservations:
    """What eyes, ears and nose tell."""

    def test_a_stage_waits_until_it_is_told(self) -> None:
        run = on_at(WATCHES, MAINS)
        assert (state(run), holds(run)) == (State.DWELLING, {"lamp dark": False})
        run.stages.observe(Observation.DARK, run.t)
        run.play(0.2, {"mains": 92.0})
        assert (state(run), holds(run)) == (State.READY, {"lamp dark": True})

    def test_a_lamp_is_one_thing_at_a_time(self) -> None:
        run = on_at(WATCHES, MAINS)
        run.stages.observe(Observation.DARK, run.t)
        run.stages.observe(Observation.HUM, run.t)
        assert holds(run) == {"lamp dark": True}
        run.stages.observe(Observation.GLOWS, run.t)
        assert holds(run) == {"lamp dark": False}

    def test_what_was_told_at_another_stage_is_told_anew(self) -> None:
        run = on_at(WATCHES, MAINS)
        run.stages.observe(Observation.DARK, run.t)
        run.stages.observe(Observation.CLICK, run.t)
        run.play(0.2, {"mains": 92.0})
        run.next()
        run.set()
        run.play(6.0, {"mains": 230.0})
        assert holds(run) == {"relay click": False}

    def test_a_plan_may_have_no_meter_at_all(self) -> None:
        run = on_at(WATCHES, source=DIRECT)
        run.stages.observe(Observation.DARK, run.t)
        run.play(0.2, {})
        assert state(run) is State.READY

    def test_smell_and_heat_are_reasons_to_switch_off(self) -> None:
        assert {one for one in Observation if one.suggests_off} == {Observation.SMELL, Observation.TOO_HOT}


class TestSpots:
    """Readings taken once."""

    def test_a_stage_waits_for_each_of_them_read_or_skipped(self) -> None:
        run = on_at(SPOTS, MAINS)
        assert holds(run) == {"base of Q5, should read 12..15 mV": False, "node 7": False}
        spot = run.stages.spot_asked("base of Q5")
        run.stages.spot_read(spot.name, typed(spot, "18"))
        run.stages.spot_read("node 7", None)
        run.play(0.2, {"mains": 92.0})
        # What it read is for a person to judge: it was read.
        assert state(run) is State.READY
        assert [one.progress for one in run.stages.awaited(run.t)[1:]] == ["18 mV high", "skipped"]

    @pytest.mark.parametrize(
        ("text", "value", "result"),
        [
            ("13", 0.013, "within"),
            ("13.5m", 0.0135, "within"),
            ("4.1", 0.0041, "low"),
            ("14mV", 0.014, "within"),
        ],
    )
    def test_the_number_pad_has_no_m(self, text: str, value: float, result: str) -> None:
        read = typed(Spot(name="a", function=Function.VOLTS_DC, should_read="12..15 mV"), text)
        assert (read.value, read.result) == (pytest.approx(value), result)

    def test_beyond_the_range_is_no_number(self) -> None:
        read = judged(Spot(name="a", function=Function.VOLTS_DC, should_read="12..15 mV"), Overload.POSITIVE)
        assert read.value is None
        assert read.result not in ("within", "")

    def test_one_that_nobody_knows_is_kept_without_a_result(self) -> None:
        assert typed(Spot(name="a", function=Function.VOLTS_DC), "4.1").result == ""

    def test_no_spot_of_another_stage_is_taken(self) -> None:
        run = on_at(SPOTS, MAINS)
        with pytest.raises(BadInput, match="is no spot of stage"):
            run.stages.spot_asked("R1")


@pytest.mark.parametrize(
    ("stage", "why"),
    [
        ("wait=[{observed='lamp dark', low=1.0}]", "has no figure"),
        ("wait=[{low=1.0}]", "given together or left out together"),
        ("wait=[{observed='green'}]", "observed"),
        ("spot=[{name='a', function='ohms'}]", "not measured on a live unit"),
        ("spot=[{name='a', function='volts_dc', should_read='4k7 5%'}]", "not in volts"),
        ("spot=[{name='a', function='volts_dc'}, {name='a', function='volts_dc'}]", "stands twice"),
    ],
)
def test_what_a_stage_cannot_mean_is_a_fault(stage: str, why: str) -> None:
    with pytest.raises(BadInput, match=why):
        plan_of(MAINS, stages=(f"name='a', fraction=0.4, dwell=1.0, {stage}",))
