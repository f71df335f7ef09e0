"""Cold checks: what a plan demands, what readings and words make of it, and what no key overrides."""

import math

import pytest
from helpers.watched import MAINS, plan_of

from benchlog import textfile
from benchlog.domain.cold_checks import (
    ColdAnswer,
    ColdCheck,
    ColdReading,
    from_readings,
    lacking,
    overridden,
    standing,
    told,
)
from benchlog.domain.plan import Plan
from benchlog.domain.run_kind import RunKind
from benchlog.errors import BadInput


def ohms(designator: str, value: float) -> ColdReading:
    return ColdReading(designator, value, "ohm")


def parsed(*head: str, source: str = 'moved_by = "hand"\nchain = ["wall"]\nmains = 230.0') -> Plan:
    stage = (
        "fraction = 1.0\ndwell = 1.0"
        if "hand" in source
        else "volts = 10.0\ncurrent_limit = 0.1\ndwell = 1.0"
    )
    lines = ['file = "benchlog plan 1"', 'name = "a plan"', *head]
    text = "\n".join([*lines, "[source]", source, "[[stage]]", 'name = "up"', stage])
    return textfile.parse(text, "plan.toml", Plan)


def test_a_plan_that_says_nothing_demands_what_is_usual_for_its_kind() -> None:
    whole, board = parsed(), parsed(source='moved_by = "program"\nchain = ["s"]\nsupply = "s"')
    assert whole.cold_checks == tuple(ColdCheck)
    assert (board.run_kind, ColdCheck.EARTH in board.cold_checks) == (RunKind.BOARD, False)
    assert ColdCheck.PRESETS not in parsed('kind = "adjust"').cold_checks
    assert parsed('cold = ["earth", "earth"]').cold_checks == (ColdCheck.EARTH,)
    assert plan_of(MAINS).cold_checks == ()


def test_what_a_plan_demands_is_named_one_by_one_while_it_is_missing() -> None:
    faults = lacking((ColdCheck.SPEAKERS, ColdCheck.FUSES), [told(ColdCheck.FUSES, yes=True)])
    assert [fault.place for fault in faults] == ["speakers off"]
    assert "was not checked" in str(faults[0])


@pytest.mark.parametrize(
    ("check", "reading", "holds"),
    [
        (ColdCheck.EARTH, ohms("earth", 0.21), True),
        (ColdCheck.EARTH, ohms("PE to chassis", 3.0), False),
        (ColdCheck.INSULATION, ohms("primary to chassis", math.inf), True),
        (ColdCheck.INSULATION, ohms("Insulation 500 V", 8e4), False),
        (ColdCheck.INSULATORS, ohms("insulator Q7", 40.0), False),
        (ColdCheck.RAILS, ohms("rail to ground +B", 2.0), False),
        (ColdCheck.DISCHARGED, ColdReading("reservoir +B", -4.0, "V"), False),
    ],
)
def test_a_reading_of_the_visit_answers_for_its_check(
    check: ColdCheck, reading: ColdReading, holds: bool
) -> None:
    answer = from_readings(check, [reading])
    assert answer is not None
    assert (answer.holds, answer.by) == (holds, "read")
    assert reading.designator in answer.text


def test_the_newest_reading_of_a_point_counts_and_a_bad_one_is_not_talked_away() -> None:
    first, better = ohms("earth", 9.0), ohms("earth", 0.2)
    word = {ColdCheck.EARTH: told(ColdCheck.EARTH, yes=True)}
    (bad,) = standing([ColdCheck.EARTH], [first], word)
    (good,) = standing([ColdCheck.EARTH], [first, better], {})
    assert (bad.holds, bad.passes, good.passes) == (False, False, True)


def test_one_good_insulator_says_nothing_of_the_others() -> None:
    good = [ohms("insulator Q7", 3e6)]
    assert from_readings(ColdCheck.INSULATORS, good) is None
    (asked,) = standing([ColdCheck.INSULATORS], good, {})
    assert (asked.holds, asked.passes) == (None, False)


def test_ohms_of_a_resistor_or_volts_of_another_point_answer_nothing() -> None:
    assert from_readings(ColdCheck.EARTH, [ohms("R101", 0.1), ColdReading("earth", 0.1, "V")]) is None
    assert from_readings(ColdCheck.SPEAKERS, [ohms("speakers", 8.0)]) is None


def test_an_override_lets_it_go_live_and_says_so() -> None:
    over = overridden(ColdAnswer(ColdCheck.PRESETS))
    no = overridden(told(ColdCheck.FUSES, yes=False))
    assert (over.passes, no.passes) == (True, True)
    assert "overridden" in over.in_words
    assert "FAILED" in no.in_words


@pytest.mark.parametrize("check", [ColdCheck.EARTH, ColdCheck.INSULATION])
def test_a_failed_earth_or_insulation_is_overridden_by_nothing(check: ColdCheck) -> None:
    failed = told(check, yes=False)
    with pytest.raises(BadInput, match="no key overrides"):
        overridden(failed)
    forced = ColdAnswer(check, holds=False, by="told", overridden=True)
    assert not forced.passes
    assert "no key overrides" in str(lacking([check], [forced])[0])
    assert overridden(ColdAnswer(check)).passes  # not looked at is not failed


def test_an_override_does_not_outlive_a_reading_that_fails() -> None:
    word = {ColdCheck.EARTH: overridden(ColdAnswer(ColdCheck.EARTH))}
    (stands,) = standing([ColdCheck.EARTH], [ohms("earth", 40.0)], word)
    assert not stands.passes


def test_a_reading_in_doubt_makes_nothing_good_and_takes_no_failure_back() -> None:
    """An earth that is read on a bad contact: 0.3 ohm for a moment proves nothing."""
    doubtful = ColdReading("earth", 0.3, "ohm", doubtful=True)
    nothing = ColdReading("earth", math.nan, "ohm", doubtful=True)
    assert from_readings(ColdCheck.EARTH, [doubtful]) is None
    assert from_readings(ColdCheck.EARTH, [ohms("earth", 0.1), nothing]) is None
    failed = from_readings(ColdCheck.EARTH, [ohms("earth", 12.0), doubtful, nothing])
    assert failed is not None
    assert failed.holds is False
    mended = from_readings(ColdCheck.EARTH, [ohms("earth", 12.0), doubtful, ohms("earth", 0.1)])
    assert mended is not None
    assert mended.holds is True
