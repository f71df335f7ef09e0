"""What the tips do, told from readings alone: contact after air, one part a contact, slips held, keys for the air."""

from collections.abc import Sequence
from itertools import pairwise

import pytest
from helpers.watched import ns
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.expectation import Expectation
from benchlog.domain.handsfree import SILENT, Coming, HandsFree, Tips, Took, coming
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function, Outcome, Reading

OL = None
STEP = 0.1
"""Seconds from one reading to the next."""


def expect(text: str, unit: str = "ohm") -> Expectation:
    return Expectation.parse(text, unit=unit)


def part(name: str, text: str = "4k7 5%", function: Function = Function.OHMS, unit: str = "ohm") -> Coming:
    return coming(name, function, expect(text, unit))


class Bench:
    """A decider with its clock: `read` offers readings of ohms a tenth of a second apart."""

    def __init__(self, *parts: Coming) -> None:
        self.t = 0.0
        self.hands = HandsFree(0)
        self.hands.ahead(parts)
        self.took: list[Took] = []

    def read(
        self, *values: float | None, function: Function = Function.OHMS, outcome: Outcome | None = None
    ) -> list[str]:
        """The ids that were taken by these readings."""
        before = len(self.took)
        for value in values:
            self.t += STEP
            kind = outcome or (Outcome.OVERLOAD if value is None else Outcome.OK)
            found = self.hands.read(Reading(kind, value, function, 0, ""), ns(self.t))
            if found is not None:
                self.took.append(found)
        return [one.of.reading for one in self.took[before:]]

    def air(self) -> None:
        assert self.read(OL, OL, OL, OL) == []

    def key(self, name: str) -> list[str]:
        found = self.hands.key(name, ns(self.t))
        if found is not None:
            self.took.append(found)
        return [found.of.reading] if found is not None else []

    @property
    def tips(self) -> Tips:
        return self.hands.tips


def test_a_part_is_taken_from_a_contact_after_air_and_the_next_only_after_a_lift() -> None:
    bench = Bench(part("a"), part("b"))
    assert bench.tips is Tips.LIFT
    bench.air()
    assert bench.tips is Tips.AIR
    assert bench.read(4000.0) == []
    assert bench.tips is Tips.CONTACT
    assert bench.read(4700.0, 4700.0) == []
    assert bench.tips is Tips.SETTLING
    assert bench.read(4700.0) == ["a"]
    assert bench.tips is Tips.LIFT
    assert bench.read(*[4700.0] * 50) == []
    bench.air()
    assert bench.read(4700.0, 4700.0, 4700.0, 4700.0) == ["b"]
    assert bench.tips is Tips.NOTHING
    assert bench.hands.at is None


def test_a_contact_that_was_there_before_is_none() -> None:
    bench = Bench(part("a"))
    assert bench.read(*[4700.0] * 20) == []
    assert bench.tips is Tips.LIFT


def test_a_bounce_is_no_lift_and_no_part() -> None:
    bench = Bench(part("a"), part("b"))
    bench.air()
    assert bench.read(4700.0, OL, 4700.0, 4700.0, OL, 4700.0, 4700.0, 4700.0, 4700.0) == ["a"]
    assert bench.read(OL, 4700.0, 4700.0, 4700.0, 4700.0, 4700.0) == []


def test_a_brush_against_something_is_nothing() -> None:
    bench = Bench(part("a"))
    bench.air()
    bench.read(12.0, 12.0)
    bench.air()
    assert bench.tips is Tips.AIR
    assert bench.took == []


def test_a_reading_far_off_is_held_until_the_same_comes_again_after_a_lift() -> None:
    bench = Bench(part("a"))
    bench.air()
    assert bench.read(*[12.0] * 30) == []
    assert bench.hands.held is not None
    assert bench.hands.held.reading.value == 12.0
    bench.air()
    assert bench.hands.held is not None
    assert bench.read(12.3, 12.3, 12.3, 12.3) == ["a"]
    assert bench.took[0].looked


def test_a_held_slip_gives_way_to_what_is_near_and_to_another_slip() -> None:
    bench = Bench(part("a"), part("b"))
    bench.air()
    bench.read(*[12.0] * 4)
    bench.air()
    assert bench.read(*[470.0] * 4) == []
    assert bench.hands.held is not None
    assert bench.hands.held.reading.value == 470.0
    bench.air()
    assert bench.read(*[4650.0] * 4) == ["a"]
    assert not bench.took[0].looked
    assert bench.hands.held is None


def test_a_key_bears_a_held_reading_out_or_drops_it() -> None:
    bench = Bench(part("a"), part("b"))
    bench.air()
    bench.read(*[12.0] * 4)
    assert bench.key("b") == []
    assert bench.key("a") == ["a"]
    assert bench.took[0].looked
    bench.air()
    bench.read(*[12.0] * 4)
    assert not bench.hands.drop("a")
    assert bench.hands.drop("b")
    assert not bench.hands.drop("b")
    assert bench.read(*[12.0] * 9) == []
    assert bench.hands.held is None


def test_over_range_is_never_taken_by_settling_and_by_key_it_is_held_first() -> None:
    bench = Bench(part("a"), part("b"))
    bench.read(*[OL] * 100)
    assert bench.took == []
    bench.key("a")
    assert bench.read(OL, OL, OL, OL) == []
    assert bench.hands.held is not None
    assert bench.key("a") == ["a"]
    assert bench.took[0].reading.outcome is Outcome.OVERLOAD
    assert bench.tips is Tips.AIR
    assert bench.read(*[4700.0] * 4) == ["b"]


def test_a_reverse_diode_wants_a_key_and_is_then_taken() -> None:
    bench = Bench(part("a", "OL", Function.DIODE, "V"), part("b", "0.5..0.7 V", Function.DIODE, "V"))
    bench.read(*[OL] * 9, function=Function.DIODE)
    assert bench.tips is Tips.KEY
    bench.key("a")
    assert bench.read(OL, OL, OL, OL, function=Function.DIODE) == ["a"]
    bench.read(OL, OL, OL, function=Function.DIODE)
    assert bench.read(*[0.61] * 4, function=Function.DIODE) == ["b"]


def test_each_reading_of_volts_wants_a_key() -> None:
    volts = Function.VOLTS_DC
    bench = Bench(part("a", "-38 V 10%", volts, "V"), part("b", "-38 V 10%", volts, "V"))
    assert bench.read(*[-38.0] * 20, function=volts) == []
    assert bench.tips is Tips.KEY
    bench.key("a")
    assert bench.read(*[-38.0] * 4, function=volts) == ["a"]
    assert bench.read(*[-38.0] * 20, function=volts) == []
    assert bench.key("a") == []
    bench.key("b")
    assert bench.read(*[0.0] * 9, function=volts) == []
    assert bench.hands.held is not None
    assert bench.key("b") == ["b"]


def test_a_key_does_not_make_two_parts_of_one_contact() -> None:
    bench = Bench(part("a"), part("b"))
    bench.air()
    bench.read(*[4700.0] * 4)
    bench.key("b")
    assert bench.read(*[4700.0] * 9) == []
    bench.air()
    assert bench.read(*[4700.0] * 4) == ["b"]


def test_a_key_on_a_contact_that_was_there_before_takes_it() -> None:
    bench = Bench(part("a"))
    bench.read(*[4700.0] * 3)
    bench.key("a")
    assert bench.read(*[4700.0] * 4) == ["a"]


def test_a_capacitor_is_told_from_the_leads_and_one_as_small_wants_a_key() -> None:
    farads = Function.CAPACITANCE
    bench = Bench(part("a", "100n 10%", farads, "F"), part("b", "22p 10%", farads, "F"))
    bench.read(*[6e-12] * 9, function=farads)
    assert bench.tips is Tips.AIR
    assert bench.read(*[98e-9] * 4, function=farads) == ["a"]
    bench.read(*[6e-12] * 9, function=farads)
    assert bench.tips is Tips.KEY
    bench.key("b")
    assert bench.read(*[23e-12] * 4, function=farads) == ["b"]


def test_a_capacitor_over_range_is_not_taken_by_itself() -> None:
    farads = Function.CAPACITANCE
    bench = Bench(part("a", "100n 10%", farads, "F"))
    bench.read(*[6e-12] * 4, function=farads)
    assert bench.read(*[OL] * 30, function=farads) == []
    assert bench.tips is Tips.KEY
    bench.key("a")
    bench.read(*[OL] * 4, function=farads)
    assert bench.hands.held is not None


def test_a_wrong_function_and_a_meter_on_hold_take_nothing_and_want_air_again() -> None:
    bench = Bench(part("a"))
    bench.air()
    assert bench.read(*[0.2] * 9, function=Function.VOLTS_DC) == []
    assert (bench.tips, bench.hands.why) == (Tips.WRONG, "volts_dc")
    assert bench.key("a") == []
    assert bench.read(*[4700.0] * 9) == []
    assert bench.tips is Tips.LIFT
    assert bench.read(4700.0, outcome=Outcome.NOT_LIVE) == []
    assert (bench.tips, bench.hands.why) == (Tips.WRONG, "not live")
    bench.air()
    assert bench.read(*[4700.0] * 4) == ["a"]


def test_a_meter_that_falls_silent_is_told_and_its_contact_begins_anew() -> None:
    bench = Bench(part("a"))
    bench.air()
    bench.read(4700.0, 4700.0, 4700.0)
    bench.t += SILENT + 1.0
    assert bench.hands.silent(ns(bench.t))
    assert bench.read(None, outcome=Outcome.MISSING) == []
    assert bench.read(*[4700.0] * 9) == []
    assert not bench.hands.silent(ns(bench.t))
    bench.air()
    assert bench.read(*[4700.0] * 4) == ["a"]


def test_bad_replies_break_a_settling_but_not_a_contact() -> None:
    bench = Bench(part("a"))
    bench.air()
    bench.read(4700.0, 4700.0, 4700.0)
    bench.read(None, outcome=Outcome.MALFORMED)
    assert bench.read(4700.0, 4700.0, 4700.0) == ["a"]


def test_what_creeps_is_taken_after_eight_seconds_with_where_it_is_heading() -> None:
    bench = Bench(part("a"))
    bench.air()
    values = [4680.0 - 3500.0 * 2.718281828 ** (-STEP * n / 4.0) for n in range(90)]
    assert bench.read(*values) == ["a"]
    (took,) = bench.took
    assert not took.settled
    assert took.heading == pytest.approx(4680.0, rel=0.02)
    assert took.reading.value is not None
    assert took.reading.value < 4300.0


def test_what_only_wanders_is_taken_without_a_number_for_its_end() -> None:
    bench = Bench(part("a"))
    bench.air()
    assert bench.read(*[4700.0 + 100.0 * (n % 3) for n in range(90)]) == ["a"]
    assert bench.took[0].heading is None
    assert not bench.took[0].settled


def test_what_creeps_towards_something_far_off_is_held() -> None:
    bench = Bench(part("a"))
    bench.air()
    bench.read(*[40e3 - 39e3 * 2.718281828 ** (-STEP * n / 4.0) for n in range(90)])
    assert bench.took == []
    assert bench.hands.held is not None


def test_a_contact_counts_only_for_the_part_it_began_with() -> None:
    one, other = part("a"), part("b")
    bench = Bench(one, other)
    bench.air()
    bench.read(4700.0, 4700.0)
    bench.hands.ahead([one, part("c")])  # The same first, others behind it.
    assert bench.read(4700.0, 4700.0) == ["a"]
    bench.air()
    bench.read(4700.0, 4700.0)
    bench.hands.ahead([other, part("c")])
    assert bench.read(*[4700.0] * 9) == []
    assert bench.key("b") == []
    assert bench.read(*[4700.0] * 9) == []
    bench.air()
    assert bench.read(*[4700.0] * 4) == ["b"]


def test_another_part_in_the_air_waits_for_its_contact_at_once_and_a_held_one_is_gone() -> None:
    bench = Bench(part("a"))
    bench.air()
    bench.read(*[12.0] * 4)
    bench.air()
    bench.hands.ahead([part("b")])
    assert bench.hands.held is None
    assert bench.tips is Tips.AIR
    assert bench.read(*[4700.0] * 4) == ["b"]


def test_nothing_ahead_takes_nothing() -> None:
    bench = Bench()
    assert bench.read(OL, OL, OL, 4700.0, 4700.0, 4700.0, 4700.0) == []
    assert bench.key("a") == []
    assert not bench.hands.silent(ns(99.0))
    assert bench.tips is Tips.NOTHING


@pytest.mark.parametrize(
    ("text", "beside", "value", "near"),
    [
        ("4k7 5%", (), 1600.0, True),
        ("4k7 5%", (), 1500.0, False),
        ("4k7 5%", (), 14200.0, False),
        ("4k7 5%", (14200.0,), 14200.0, True),
        ("4k7 5%", (Overload.POSITIVE,), None, True),
        ("4k7 5%", (), None, False),
        ("> 1 M", (), None, True),
        ("OL", (), None, True),
    ],
)
def test_what_explains_itself_needs_no_look(
    text: str, beside: Sequence[float | Overload], value: float | None, near: bool
) -> None:
    assert coming("a", Function.OHMS, expect(text), beside).needs_no_look(value) is near


def test_where_nothing_says_what_it_should_read_nothing_is_far_off() -> None:
    made = coming("a", Function.OHMS, None)
    assert made.needs_no_look(1.0)
    assert made.needs_no_look(None)


def test_what_the_leads_read_alone_does_not_explain_itself() -> None:
    made = coming("a", Function.CAPACITANCE, expect("100n 10%", "F"), (5e-12,))
    assert not made.needs_no_look(5e-12)


# --- a technician's hands ------------------------------------------------------------------------

NAMES = ("a", "b", "c", "d", "e")
SPREAD = (4700.0, 12.0, 470e3, 0.3)
"""What may come under the tips: the part, or a neighbour."""

bounce = st.lists(st.sampled_from([OL, 4700.0, 12.0, 9e4]), max_size=3).map(
    # A bounce is over before it could be a lift.
    lambda values: [one for n, one in enumerate(values) if one is not OL or n % 2]
)
touch = st.tuples(
    st.sampled_from(SPREAD), bounce, st.integers(0, 12), st.booleans(), st.integers(3, 8), st.booleans()
)
"""A contact: what is under the tips, how it bites, how long it lasts, whether it creeps, the air after it, a key."""


@given(st.lists(touch, max_size=9), st.booleans())
def test_never_two_parts_from_one_contact_never_the_air_and_nothing_held_by_itself(
    touches: list[tuple[float, list[float | None], int, bool, int, bool]], keys: bool
) -> None:
    bench = Bench(*(part(name) for name in NAMES))
    bench.air()
    given_by: list[int] = []
    for number, (true, bites, lasts, creeps, after, presses) in enumerate(touches):
        values = [true * (1.0 - (0.5 * 0.7**n if creeps else 0.0)) for n in range(lasts)]
        for value in (*bites, *values):
            held = bench.hands.held
            if bench.read(value):
                given_by.append(number)
                took = bench.took[-1]
                assert took.reading.outcome is Outcome.OK, "never what the air reads"
                assert took.of.needs_no_look(took.heading or took.reading.value) or (
                    held is not None and took.looked and held.reading is not took.reading
                ), "what is far off only where the same came before it, from an earlier contact"
        if keys and presses and bench.hands.held is not None:
            assert bench.key(bench.hands.held.of.reading)
            given_by.append(number)
        bench.read(*[OL] * after)
        assert bench.tips in (Tips.AIR, Tips.NOTHING)
    assert len(set(given_by)) == len(given_by), "one contact, one part"
    assert [one.of.reading for one in bench.took] == list(NAMES[: len(bench.took)])


@given(st.lists(st.one_of(st.none(), st.floats(0.0, 1e7)), max_size=60))
def test_whatever_comes_only_what_stood_still_after_air_is_taken(values: list[float | None]) -> None:
    bench = Bench(*(part(name) for name in NAMES))
    for n, value in enumerate(values):
        if bench.read(value):
            row = values[n - 2 : n + 1]
            assert all(one is not None and abs(one - row[-1]) <= 0.01 * row[-1] + 0.1 for one in row)  # type: ignore[operator]
            before = values[:n]
            assert any(one is OL and other is OL for one, other in pairwise(before))
