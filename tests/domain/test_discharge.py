"""A reservoir counts as discharged only along a curve from above 5 V to under 1 V; a minute later it is read again."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from helpers.watched import MAINS, PLUS, plan_of

from benchlog.domain.discharge import LONGEST, MEASURE, Charge, Discharge, Standing, time_to
from benchlog.domain.reading import Outcome
from benchlog.domain.trace import SECOND, Trace

Curve = Callable[[float], float | None]
MISSING = "its meter gave no answer"


class Watched:
    """One rail from off on, read every `every` seconds; it had `before` volts."""

    def __init__(self, before: float | None = 40.0, every: float = 0.3, doubt: str = "") -> None:
        trace = Trace(plan_of(PLUS).trace[0])
        trace.take(before, Outcome.OK if before is not None else Outcome.MISSING, 0, 0)
        trace.doubt = doubt
        self.every, self.t = every, 0.0
        self.discharge = Discharge({"+B": trace}, 0)
        self.charges: list[Charge] = []

    def play(self, seconds: float, curve: Curve) -> "Watched":
        """Let it read `curve` of the seconds since this began; None is a reading that says nothing."""
        begun = self.t
        while self.t < begun + seconds:
            self.t += self.every
            value = curve(self.t - begun)
            self.discharge.reading("+B", value, self.now, "" if value is not None else MISSING)
            charge = self.standing.charge
            if self.charges[-1:] != [charge]:
                self.charges.append(charge)
        return self

    @property
    def now(self) -> int:
        return round(self.t * SECOND)

    @property
    def standing(self) -> Standing:
        return self.discharge.standings(self.now)["+B"]

    @property
    def follows(self) -> bool:
        return self.discharge.to_follow(self.now)


def falling(start: float = 40.0, tau: float = 10.0) -> Curve:
    """An exponential fall."""
    return lambda t: start * math.exp(-t / tau)


def flat(volts: float) -> Curve:
    """The same all the time."""
    return lambda _: volts


def test_a_fall_is_told_on_its_way_down_and_read_again_after_a_minute() -> None:
    rail = Watched().play(35.0, falling())
    assert rail.charges == [Charge.STANDS, Charge.FALLING]
    assert rail.follows
    rail.play(5.0, falling(40.0 * math.exp(-3.5)))
    assert rail.standing.charge is Charge.DECAYED
    assert rail.standing.text == "under 1 V, seen to decay from above 5 V"
    assert rail.follows
    rail.play(60.0, falling(0.8, 1000.0))
    assert rail.standing.charge is Charge.STAYED
    assert rail.standing.text.startswith("under 1 V, seen to decay; after 60 s 0.7")
    assert not rail.follows


def test_a_curve_down_to_one_reading_between_two_steps_of_a_coarse_meter_is_believed() -> None:
    fall = falling(44.0, 8.0)
    rail = Watched(44.0, every=0.35).play(40.0, lambda t: round(fall(t) or 0.0, 1))
    assert rail.charges == [Charge.STANDS, Charge.FALLING, Charge.DECAYED]


def test_a_resistor_clipped_across_it_makes_a_steep_curve_and_still_one() -> None:
    rail = Watched(every=0.2).play(10.0, falling(40.0, 200.0)).play(6.0, falling(38.0, 1.0))
    assert rail.standing.charge is Charge.DECAYED


@pytest.mark.parametrize("from_volts", [40.0, 31.0, 4.0, 1.3])
def test_a_step_to_nothing_proves_nothing(from_volts: float) -> None:
    rail = Watched().play(10.0 * math.log(40.0 / from_volts), falling())
    rail.play(30.0, flat(0.0))
    assert rail.standing.charge is Charge.NOT_PROVEN
    assert rail.standing.text == f"not proven, it stepped to 0.00 V: {MEASURE}"


def test_a_clip_that_comes_off_after_it_was_low_takes_that_back() -> None:
    rail = Watched().play(39.0, falling()).play(10.0, flat(0.0))
    assert Charge.DECAYED in rail.charges
    assert rail.standing.charge is Charge.NOT_PROVEN
    rail.play(60.0, flat(0.0))
    assert rail.standing.charge is Charge.NOT_PROVEN


def test_a_step_that_comes_back_above_five_volts_begins_a_curve_anew() -> None:
    rail = Watched().play(3.0, falling()).play(3.0, flat(0.0))
    assert rail.standing.charge is Charge.NOT_PROVEN
    rail.play(40.0, falling(20.0))
    assert rail.standing.charge is Charge.DECAYED


def test_what_never_showed_charge_is_never_seen_to_lose_it() -> None:
    rail = Watched(before=3.0).play(40.0, falling(3.0))
    assert rail.charges == [Charge.NOT_PROVEN]
    assert "never seen above 5 V" in rail.standing.text
    assert rail.standing.volts == pytest.approx(3.0 * math.exp(-4.0), rel=0.1)


def test_what_read_nothing_all_along_is_not_waited_for() -> None:
    assert not Watched(before=0.0).play(1.0, flat(0.0)).follows
    assert not Watched(before=None).play(1.0, lambda _: None).follows


def test_a_reading_that_says_nothing_shows_no_number_and_a_long_gap_ends_the_curve() -> None:
    rail = Watched().play(25.0, falling()).play(0.3, lambda _: None)
    assert rail.standing == Standing(Charge.NOT_PROVEN, f"not proven, {MISSING}: {MEASURE}")
    rail.play(5.0, falling(40.0 * math.exp(-2.56)))
    assert rail.standing.charge is Charge.FALLING
    rail.play(3.0, lambda _: None).play(30.0, falling(1.4))
    assert rail.standing.text == f"not proven, a gap in its readings: {MEASURE}"


def test_silence_is_not_proven_as_soon_as_the_number_is_old() -> None:
    rail = Watched().play(39.0, falling())
    assert rail.standing.charge is Charge.DECAYED
    rail.t += 2.1
    assert rail.standing == Standing(Charge.NOT_PROVEN, f"not proven, no reading any more: {MEASURE}")


def test_a_trace_that_was_doubted_at_off_shows_nothing_until_it_reads_again() -> None:
    rail = Watched(doubt="did not follow")
    assert "did not follow" in rail.standing.text
    assert rail.play(10.0, falling()).standing.charge is Charge.FALLING


def test_a_meter_too_slow_to_see_the_way_down_proves_nothing() -> None:
    rail = Watched(every=2.5).play(20.0, falling(40.0, 1.2))
    assert rail.standing.charge is Charge.NOT_PROVEN


def test_charge_that_comes_back_is_told_and_followed_down_again() -> None:
    rail = Watched().play(40.0, falling())
    rail.play(30.0, lambda t: 0.7 + 0.02 * t)
    assert rail.standing.charge is Charge.REBOUND
    assert rail.standing.text.startswith("rebound to 1.")
    assert rail.follows
    rail.play(70.0, falling(1.25, 40.0))
    assert rail.standing.charge is Charge.STAYED


def test_a_rail_that_stands_is_still_charged_and_kept_open_for_ten_minutes_at_most() -> None:
    rail = Watched().play(20.0, flat(31.0))
    assert rail.standing.text == "still charged, not seen to fall"
    assert rail.follows
    rail.t = LONGEST
    assert not rail.follows


def test_a_rail_that_rises_from_five_volts_has_not_decayed() -> None:
    rail = Watched().play(25.0, falling()).play(4.0, lambda t: 3.3 + 0.3 * t)
    assert rail.standing.text == f"not proven, it has risen: {MEASURE}"


def test_what_shows_nothing_is_given_up_after_a_minute() -> None:
    rail = Watched().play(3.0, falling()).play(50.0, lambda _: None)
    assert rail.follows
    assert not rail.play(15.0, lambda _: None).follows


def test_only_what_holds_charge_is_followed() -> None:
    traces = {trace.name: Trace(replace(trace)) for trace in plan_of(MAINS, PLUS).trace}
    assert list(Discharge(traces, 0).standings(0)) == ["+B"]


def test_the_time_to_a_volt_is_said_only_of_what_is_measured_falling() -> None:
    fall = [(t, 20.0 * math.exp(-t / 10.0)) for t in range(5)]
    assert time_to(1.0, fall) == pytest.approx(10.0 * math.log(20.0) - 4.0)
    assert time_to(1.0, [(t, -volts) for t, volts in fall]) == time_to(1.0, fall)
    assert time_to(1.0, fall[:2]) is None
    assert time_to(1.0, [(t, 20.0) for t in range(9)]) is None
    assert time_to(1.0, [*fall, (5, 0.0)]) is None
    assert time_to(1.0, [(3, 2.0)] * 4) is None
