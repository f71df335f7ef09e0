"""Days as a person types them while looking for something: `2026-03`, `march`, `14 march 2026`, `yesterday`."""

import calendar
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

_MONTHS = tuple(name.casefold() for name in (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
))  # fmt: skip
_NAMES = tuple(name.capitalize() for name in _MONTHS)
_ISO = re.compile(r"(\d{4})(?:[-/](\d{1,2})(?:[-/](\d{1,2}))?)?[-/]?")
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})?")
_EITHER = re.compile(r"(\d{1,2})[-/](\d{1,2})[-/](\d{4})")
_DAY = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?")
_YEAR = re.compile(r"(?:19|20)\d\d")
_LEAST_OF_A_MONTH = 3
"""Letters from which the beginning of a month's name is one."""


@dataclass(frozen=True, slots=True)
class Days:
    """A year, a month, a day, or some of these; None leaves it open. `problem` says why it is no day at all."""

    year: int | None = None
    month: int | None = None
    day: int | None = None
    problem: str = ""

    @property
    def shown(self) -> str:
        """As it was understood: `March 2026`, `14 March`."""
        month = _NAMES[self.month - 1] if self.month else ""
        return " ".join(str(part) for part in (self.day, month, self.year) if part)

    @property
    def said(self) -> str:
        """The same behind a verb: `in March`, `on 14 March`."""
        return f"{'on' if self.day else 'in'} {self.shown}"


def days_in(words: Sequence[str], today: date) -> tuple[Days, int]:
    """What days the words begin with, and how many of them say so; none of them where they are no days."""
    first = words[0]
    if first in ("today", "yesterday"):
        day = today - timedelta(days=first == "yesterday")
        return Days(day.year, day.month, day.day), 1
    for written in (_iso, _dotted, _either):
        found = written(first)
        if found is not None:
            return found, 1
    return _in_words(words)


def _iso(word: str) -> Days | None:
    found = _ISO.fullmatch(word)
    if found is None or not _YEAR.fullmatch(found[1]):
        return None
    # A lone 0 is the beginning of a month or day that is still being typed.
    return _checked(*(int(part) if part and part != "0" else None for part in found.groups()))


def _dotted(word: str) -> Days | None:
    found = _DOTTED.fullmatch(word)
    return _checked(int(found[3]) if found[3] else None, int(found[2]), int(found[1])) if found else None


def _either(word: str) -> Days | None:
    """Day and month with strokes: which is which only some of them tell."""
    found = _EITHER.fullmatch(word)
    if found is None:
        return None
    one, other, year = map(int, found.groups())
    if 1 <= one <= 12 and 1 <= other <= 12 and one != other:
        return Days(
            problem=f"could be {one} {_NAMES[other - 1]} or {other} {_NAMES[one - 1]}: name the month"
        )
    return _checked(year, one, other) if other > 12 else _checked(year, other, one)


def _in_words(words: Sequence[str]) -> tuple[Days, int]:
    """A month by its name, with a day before or behind it and a year behind."""
    at = 0
    day = _day(words[0])
    if day is not None:
        at = 1
    month = _month(words[at]) if at < len(words) else None
    if month is None:
        return Days(), 0
    at += 1
    if day is None and at < len(words) and not _YEAR.fullmatch(words[at]):
        day = _day(words[at])
        at += day is not None
    year = None
    if at < len(words) and _YEAR.fullmatch(words[at]):
        year = int(words[at])
        at += 1
    return _checked(year, month, day), at


def _day(word: str) -> int | None:
    found = _DAY.fullmatch(word)
    return int(found[1]) if found and 1 <= int(found[1]) <= 31 else None


def _month(word: str) -> int | None:
    if len(word) < _LEAST_OF_A_MONTH:
        return None
    return next((n for n, name in enumerate(_MONTHS, start=1) if name.startswith(word)), None)


def _checked(year: int | None, month: int | None, day: int | None) -> Days:
    if month is not None and not 1 <= month <= 12:
        return Days(problem=f"there is no month {month}")
    # A leap year where no year is given: 29 February was there at some time.
    longest = calendar.monthrange(year or 2024, month)[1] if month is not None else 31
    if day is not None and not 1 <= day <= longest:
        return Days(problem=f"there is no day {day} in {_NAMES[(month or 1) - 1]}")
    return Days(year, month, day)
