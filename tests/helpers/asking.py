"""Asks what a reading proves, in one line: a written expectation, a reading, and what bears on it."""

from typing import Any

from benchlog.domain.accuracy import MeterError
from benchlog.domain.expectation import Expectation
from benchlog.domain.judging import judge
from benchlog.domain.quantity import Overload
from benchlog.domain.verdict import Judgement, Question, Verdict

OL = Overload.POSITIVE


def ask(
    expect: str | Expectation | None, reading: float | Overload | None, error: str | None = None, **more: Any
) -> Judgement:
    """Give the judgement of a reading against a written expectation, by a meter's written error."""
    expectation = Expectation.parse(expect, more.get("kind")) if isinstance(expect, str) else expect
    meter = MeterError.parse(error) if error else None
    return judge(Question(expectation, reading, meter_error=meter, **more))


def word(*given: Any, **more: Any) -> Verdict:
    """Give the verdict alone."""
    return ask(*given, **more).verdict
