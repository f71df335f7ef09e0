"""A clip that is moved: its trace rests, comes back or is lost, and is trusted anew."""

from collections.abc import Mapping

import pytest
from helpers.watched import DIRECT, IDLE, LAMP, MAINS, MINUS, OFFSET, PLUS, PoweredUp, plan_of

from benchlog.domain.clips import RESTS, Clips
from benchlog.domain.guard import Broken
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Outcome, Reading
from benchlog.domain.stages import State
from benchlog.domain.trust import Trust
from benchlog.domain.watch import NOT_YET
from benchlog.errors import BadInput

CEILINGS = ("trace='+B', kind='high', value=60.0", "trace='-B', kind='high', value=60.0")
APART = "trace='+B', kind='apart', partner='-B'"
WAITS = (
    "name='40 %', fraction=0.4, dwell=1.0, wait=[{ trace='offset L', low=-0.1, high=0.1, seconds=1.0 }]",
    "name='100 %', fraction=1.0, dwell=20.0",
)


class Moved(PoweredUp):
    """A power-up with clips: readings pass trust as they do in a recorder."""

    def __init__(self, plan: Plan) -> None:
        super().__init__(plan)
        self.trust = Trust(self.guard)
        self.clips = Clips(self.guard, self.trust)
        self.said: list[str] = []
        self.trust.begin()

    def give(self, name: str, value: object) -> tuple[Broken, ...]:
        """One reading, past clips and trust."""
        trace = self.guard.traces[name].plan
        outcome = value if isinstance(value, Outcome) else Outcome.OK
        number = value if isinstance(value, float) else None
        reading = Reading(outcome, number, trace.measures, self.wire, repr(value))
        verdict = self.clips.take(name, reading) or self.trust.take(name, reading, self.t)
        if verdict is not None and verdict.outcome is not outcome:
            outcome, number = verdict.outcome, number if verdict.judged else None
        found = self.guard.reading(name, number, outcome, self.t, self.wire)
        if self.proof is not None and number is not None and outcome is Outcome.OK:
            self.proof.reading(name, number, self.t)
        self.found.extend(found)
        return found

    def tick(self) -> None:
        """The watch looks at the clips as well."""
        super().tick()
        ended, broken = self.clips.look(self.t, self.wire)
        self.said += [verdict.text for verdict in ended.values()]
        self.found.extend(broken)

    def touch(self, name: str) -> str:
        """Take a clip in hand, or say that it is on."""
        return self.clips.touch(name, self.t, self.wire).text

    def refused(self, name: str) -> str:
        """What is said of a clip that must not be touched now."""
        with pytest.raises(BadInput) as caught:
            self.touch(name)
        return str(caught.value)


HEALTHY: Mapping[str, float] = {"+B": 17.0, "-B": -17.0, "offset L": 0.002}


def rails(*more: str) -> Moved:
    """Both rails and an offset, on and at rest at a stage."""
    limits = (*CEILINGS, *more)
    run = Moved(plan_of(PLUS, MINUS, OFFSET, limits=limits, source=DIRECT, stages=WAITS))
    for name in HEALTHY:
        run.give(name, 0.0)
    run.begin()
    run.play(8.0, HEALTHY)
    assert run.trips == []
    return run


def test_limits_silence_and_doubts_rest_while_a_clip_is_moved() -> None:
    run = rails(APART)
    assert run.guard.arming(run.t) == [0.0, 0.0, 0.0]
    assert run.touch("+B") == "the clip of +B is being moved: it rests for 20 s, then it counts as lost"
    assert run.guard.arming(run.t) == [NOT_YET, 0.0, NOT_YET]
    # It touches something at 90 V, says nothing for a while, is beyond its range.
    run.play(4.0, {**HEALTHY, "+B": 90.0})
    run.play(8.0, {**HEALTHY, "+B": None})
    run.play(4.0, {**HEALTHY, "+B": Outcome.OVERLOAD})
    assert (run.found, run.clips.left(run.wire)) == ([], [("+B", pytest.approx(4.0, abs=0.1))])
    assert run.guard.traces["+B"].value == 17.0
    run.play(4.2, HEALTHY)
    assert (run.said, run.found) == (["+B is read again"], [])
    assert run.guard.arming(run.t) == [0.0, 0.0, 0.0]
    assert run.play(1.0, {**HEALTHY, "+B": 61.0})[0].limit == "high"


def test_a_clip_that_does_not_come_back_counts_as_lost() -> None:
    run = rails()
    run.touch("+B")
    run.play(5.0, HEALTHY)
    run.play(RESTS - 5.2, {**HEALTHY, "+B": Outcome.LATE})
    assert run.found == []
    run.play(0.4, {**HEALTHY, "+B": Outcome.LATE})
    assert run.trips == ["the clip of +B was moved, and no good reading came back in 20 s"]


def test_a_rail_whose_clip_came_back_on_nothing_is_not_believed() -> None:
    run = rails()
    run.touch("+B")
    run.play(RESTS + 1.0, {**HEALTHY, "+B": 0.0})
    assert run.guard.traces["+B"].doubt == Outcome.FELL.value
    run.play(12.0, {**HEALTHY, "+B": 0.0})
    assert run.trips[0].endswith(Outcome.FELL.value)


def test_a_clip_is_said_to_be_on_before_its_time_only_where_something_is_read() -> None:
    run = rails()
    run.touch("+B")
    run.play(4.0, {**HEALTHY, "+B": None})
    assert run.refused("+B") == "clip: no reading of +B has come back yet; 16 s are left."
    run.play(1.0, HEALTHY)
    assert run.touch("+B") == "+B is read again"
    assert run.clips.left(run.wire) == []


def test_the_last_armed_critical_trace_cannot_rest() -> None:
    run = rails()
    run.touch("-B")
    # The offset is critical and read, but nothing of it is armed.
    said = run.refused("+B")
    assert said == (
        "clip: +B is the last critical trace that looks; switch off, move the clip, switch on again."
    )
    run.play(1.0, HEALTHY)
    run.touch("-B")
    run.touch("+B")


def test_a_limit_that_needs_the_clip_in_hand_guards_nothing_without_it() -> None:
    run = Moved(plan_of(PLUS, MINUS, limits=[APART], source=DIRECT, stages=WAITS[1:]))
    for name in ("+B", "-B"):
        run.give(name, 0.0)
    run.begin()
    run.play(8.0, {"+B": 17.0, "-B": -17.0})
    assert run.guard.arming(run.t) == [0.0]
    assert "last critical" in run.refused("+B")
    assert "last critical" in run.refused("-B")


def test_one_meter_alone_never_rests_and_a_supply_has_no_clip() -> None:
    run = Moved(plan_of(PLUS, limits=CEILINGS[:1], source=DIRECT))
    run.give("+B", 0.0)
    assert "last critical" in run.refused("+B")
    assert run.refused("lamp") == "clip: no trace is called 'lamp'; the plan has +B."
    volts = "name='volts', role='supply_volts', meter='bench supply', channel='1'"
    run = Moved(plan_of(PLUS, volts, limits=CEILINGS[:1], source=DIRECT))
    assert "no clip to move" in run.refused("volts")


def test_an_offset_with_a_small_kick_has_a_way_on() -> None:
    run = rails()
    run.play(4.0, HEALTHY)
    assert run.stages.state is State.DWELLING
    waits = {awaited.what: awaited for awaited in run.stages.awaited(run.t)}
    offset = waits["offset L between -100.0 mV and 100.0 mV"]
    assert not offset.holds
    run.touch("offset L")
    run.play(3.0, HEALTHY)
    assert run.stages.state is State.DWELLING
    assert run.touch("offset L") == (
        "offset L is read again, unproven until it moves by 5 mV with the source; that its clip is on was told"
    )
    run.play(3.0, HEALTHY)
    assert run.stages.state is State.READY
    # Told is not seen: it stays unproven, and says so, until it moves with the source.
    assert run.guard.traces["offset L"].unproven
    assert "unproven" in run.stages.awaited(run.t)[1].progress
    run.next()
    run.set()
    run.play(2.0, {"+B": 44.0, "-B": -44.0, "offset L": 0.009})
    assert not run.guard.traces["offset L"].unproven


def test_a_proven_offset_is_unproven_again_after_its_clip_was_touched() -> None:
    run = rails()
    run.guard.feed.begin_move(92.0, run.t)
    run.play(1.0, {**HEALTHY, "offset L": 0.02})
    assert not run.guard.traces["offset L"].unproven
    run.guard.feed.settle(run.t)
    run.play(6.0, {**HEALTHY, "offset L": 0.02})
    run.touch("offset L")
    run.play(2.0, HEALTHY)
    run.touch("offset L")
    run.play(6.0, HEALTHY)
    assert run.guard.traces["offset L"].unproven
    assert run.found == []


def test_what_rests_is_not_what_others_are_judged_by() -> None:
    run = Moved(plan_of(MAINS, LAMP, PLUS, MINUS, limits=CEILINGS))
    for name, value in {"mains": 0.0, "lamp": 0.0, "+B": 0.0, "-B": 0.0}.items():
        run.give(name, value)
    run.begin()
    meters = {"mains": 92.0, "lamp": 20.0, "+B": 13.0, "-B": -13.0}
    run.play(6.0, meters)
    assert run.guard.applied() == (92.0, True)
    run.touch("mains")
    run.play(2.0, {**meters, "mains": 0.0})
    assert run.guard.applied() == (92.0, False)
    assert run.guard.shown(run.guard.mains) is None


def test_a_clip_in_the_air_at_the_cut_proves_no_off() -> None:
    run = Moved(plan_of(MAINS, PLUS, MINUS, limits=CEILINGS, source=DIRECT))
    for name in ("mains", "+B", "-B"):
        run.give(name, 0.0)
    run.begin()
    meters = {"mains": 92.0, "+B": 17.0, "-B": -17.0}
    run.play(6.0, meters)
    run.touch("mains")
    run.play(1.0, meters)
    proof = run.ask_for_off()
    run.guard.armed = False
    run.play(RESTS + 5.0, {**meters, "mains": 0.0})
    assert proof.finding().outcome.value == "unknown"
    assert run.guard.traces["mains"].doubt == Outcome.CLIP.value


def test_the_windows_of_a_runaway_begin_anew() -> None:
    limit = "trace='idle L', kind='runaway', target=0.0165"
    run = Moved(plan_of(PLUS, IDLE, limits=(*CEILINGS[:1], limit), source=DIRECT))
    for name in ("+B", "idle L"):
        run.give(name, 0.0)
    run.begin()
    meters = {"+B": 17.0, "idle L": 0.016}
    run.play(200.0, meters)
    assert run.guard.windows["idle L"].edges
    run.touch("idle L")
    assert not run.guard.windows["idle L"].edges


def test_a_turned_trimmer_is_counted_down_and_the_runaway_rests() -> None:
    limit = "trace='idle L', kind='runaway', target=0.0165"
    run = Moved(plan_of(PLUS, IDLE, limits=(*CEILINGS[:1], limit), source=DIRECT))
    for name in ("+B", "idle L"):
        run.give(name, 0.0)
    run.begin()
    meters = {"+B": 17.0, "idle L": 0.016}
    run.play(60.0, meters)
    assert (run.guard.adjusting(run.t), run.guard.arming(run.t)) == (0.0, [0.0, 0.0])
    run.guard.trimmer_touched(run.t)
    run.play(15.0, meters)
    assert run.guard.adjusting(run.t) == pytest.approx(45.0, abs=0.1)
    assert run.guard.arming(run.t) == [0.0, pytest.approx(45.0, abs=0.1)]
    run.play(46.0, meters)
    assert (run.guard.adjusting(run.t), run.guard.arming(run.t)) == (0.0, [0.0, 0.0])
