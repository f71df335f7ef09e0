"""Which range an autoranging meter is on: asked when it is doubtful, never guessed."""

import pytest

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.profile_function import FunctionSettings, RangeSettings
from benchlog.instruments.range_told import RangeTold

SETTINGS = FunctionSettings(question="READ?", ask_range="RANG?", set_range="RANG {range}")


def volts(value: float | None) -> Reading:
    return Reading(Outcome.OK if value is not None else Outcome.OVERLOAD, value, Function.VOLTS_DC, 0, "")


def told(answer: str, at: float) -> RangeTold:
    """A range that was asked for after a reading."""
    made = RangeTold(SETTINGS, None, wanted=True)
    assert made.doubtful(volts(at))
    made.take(answer)
    return made


@pytest.mark.parametrize(
    ("value", "top", "doubtful"),
    [
        (5.0, 10.0, False),
        (-5.0, 10.0, False),
        (10.0, 10.0, False),
        (10.5, None, True),
        (1.0, 10.0, False),
        (0.9, 10.0, True),
        (0.0, 10.0, True),
        (None, None, False),
    ],
)
def test_a_reading_that_may_be_of_another_range_has_it_asked_anew(
    value: float | None, top: float | None, doubtful: bool
) -> None:
    made = told("+1.0E+1", 5.0)
    assert (made.of(volts(value)), made.doubtful(volts(value))) == (top, doubtful)


def test_past_its_nominal_top_a_range_holds_where_the_meter_said_so() -> None:
    made = told("1", 1.15)
    assert [made.of(volts(one)) for one in (1.15, 1.1, 1.19)] == [1.0, 1.0, None]
    assert made.doubtful(volts(1.19))


def test_a_meter_that_stays_on_a_large_range_is_not_asked_again_and_again() -> None:
    made = told("10", 0.3)
    assert not any(made.doubtful(volts(one)) for one in (0.3, 0.25, 0.5))
    assert made.doubtful(volts(0.05))


@pytest.mark.parametrize("answer", ["", "abc", "9.91E37", "0", "-1", "10,2"])
def test_an_answer_that_is_no_range_is_the_last_one_asked_for(answer: str) -> None:
    made = told(answer, 5.0)
    assert (made.question, made.of(volts(5.0)), made.doubtful(volts(5.0))) == ("", None, False)


def test_a_range_that_was_selected_holds_and_is_never_asked() -> None:
    made = RangeTold(SETTINGS, 100.0, wanted=True)
    assert (made.question, made.of(volts(5.0)), made.doubtful(volts(5.0))) == ("", 100.0, False)


def test_a_range_with_a_command_of_its_own_is_selected_by_it() -> None:
    own = RangeSettings(top=100.0, command="RANGE 3")
    settings = FunctionSettings(question="R?", set_up=("F V",), range=(RangeSettings(top=10.0), own))
    assert settings.range_for(5.0) == 100.0, "nothing selects the smaller one"
    assert settings.range_for(500.0) is None
    assert settings.line_up(100.0, None) == ("F V", "RANGE 3")
    assert FunctionSettings(question="R?").range_for(5.0) is None
