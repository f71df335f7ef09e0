"""What is set by a trimmer: its band, how far off it is, and the current that is told beside it."""

import pytest
from helpers.watched import IDLE, MAINS, plan_text

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.trim import Across, ResistorRead, Stand, Trim, current_in_words, homing, resistor_of
from benchlog.errors import BadInput

IDLE_TRIM = Trim(trace="idle L", low=0.0155, high=0.0175, ohms=0.33, part="R108")


@pytest.mark.parametrize(
    ("value", "stand"),
    [
        (0.0, Stand.LOW),
        (0.0155, Stand.WITHIN),
        (0.0165, Stand.WITHIN),
        (0.0176, Stand.HIGH),
        (None, Stand.LOST),
    ],
)
def test_a_value_stands_below_in_or_above_its_band(value: float | None, stand: Stand) -> None:
    assert homing(IDLE_TRIM, value).stand is stand


def test_the_distance_grows_with_every_step_away_and_never_ends_the_scale() -> None:
    far = [homing(IDLE_TRIM, 0.0175 + step * 1e-3).distance for step in range(1, 40)]
    assert far == sorted(set(far))
    assert 0.0 < far[0] < far[-1] < 1.0
    low = homing(IDLE_TRIM, 0.0155 - 1e-3).distance
    assert low == pytest.approx(-far[0])
    assert homing(IDLE_TRIM, 0.016).distance == 0.0


def test_where_it_stands_within_its_band_is_told_from_end_to_end() -> None:
    within = [homing(IDLE_TRIM, value).within for value in (0.0155, 0.0165, 0.0175)]
    assert within == pytest.approx([-1.0, 0.0, 1.0])


def test_current_goes_by_the_sheets_resistor_and_by_how_many_of_them() -> None:
    # I = U / R: 16.5 mV across 0.33 ohm are 50 mA; across both of a pair 25 mA.
    assert current_in_words(IDLE_TRIM, 0.0165).startswith("50 mA across one")
    both = Trim(trace="idle L", low=0.03, high=0.04, ohms=0.33, across=Across.BOTH)
    assert current_in_words(both, 0.033).startswith("50 mA across both")
    assert current_in_words(Trim(trace="idle L", low=0.0, high=1.0), 0.5) == ""


@pytest.mark.parametrize(
    ("read", "counts"),
    [
        (ResistorRead("R108", 0.36), False),
        (ResistorRead("r108", 0.36, four_wire=True), True),
        (ResistorRead("R108", 0.36, nulled=True, resolution=0.001, age=600.0), True),
        (ResistorRead("R108", 0.36, nulled=True, resolution=0.1, age=600.0), False),
        (ResistorRead("R108", 0.36, nulled=True, resolution=0.001, age=3601.0), False),
        (ResistorRead("R109", 0.36, four_wire=True), False),
    ],
)
def test_a_reading_stands_for_the_sheet_only_where_it_is_better(read: ResistorRead, counts: bool) -> None:
    ohms, source = resistor_of(IDLE_TRIM, [read])
    assert (ohms, source != "sheet") == ((0.36, True) if counts else (0.33, False))


def parsed(trim: str) -> Plan:
    stage = f'name = "up", fraction = 1.0, dwell = 1.0, trim = [{{ {trim} }}]'
    return textfile.parse(plan_text(MAINS, IDLE, stages=(stage,)), "plan.toml", Plan)


def test_a_band_is_awaited_like_any_wait() -> None:
    plan = parsed('trace = "idle L", low = 0.0155, high = 0.0175, hold = 4.0')
    (wait,) = plan.stage[0].awaits
    assert (wait.trace, wait.low, wait.high, wait.seconds) == ("idle L", 0.0155, 0.0175, 4.0)


@pytest.mark.parametrize(
    ("trim", "fault"),
    [
        ('trace = "idle L", low = 0.02, high = 0.01', "is not below high"),
        ('trace = "idle X", low = 0.01, high = 0.02', "no trace is called"),
        ('trace = "mains", low = 220.0, high = 240.0, ohms = 0.33', "is for an idle drop"),
        ('trace = "idle L", low = 0.01, high = 0.02, part = "R108"', "give what the sheet says"),
    ],
)
def test_a_band_that_cannot_be_meant_is_refused(trim: str, fault: str) -> None:
    with pytest.raises(BadInput, match=fault):
        parsed(trim)
