"""Finding runs by typed words: days, names, words; what is said of each, and of what nobody understands."""

from datetime import date

import pytest

from benchlog.domain.sought import Findable, Finder, Sense
from benchlog.domain.sought_day import Days, days_in

TODAY = date(2026, 11, 27)


def run(day: date | None = None, **texts: str) -> Findable:
    """A run by the names of its senses, words given plainly."""
    return Findable(day, {Sense[name.upper()]: f" {text}" for name, text in texts.items()})


HALL = {"unit": "hall amplifier", "of_unit": "r1 r101 q7l", "board": "left"}
RUNS = (
    run(
        date(2026, 3, 14), **HALL, visit="visit 147", outcome="tripped", plan="behind a lamp", words="it hums"
    ),
    run(date(2026, 3, 2), **HALL, visit="visit 147", outcome="completed", taken="r101", kind="resistor"),
    run(date(2025, 3, 14), unit="regulator", visit="visit 12", outcome="tripped", words="the lamp glows"),
    run(None, words="no readable start"),
)


def find(typed: str) -> tuple[int, ...]:
    return Finder(RUNS).find(typed, TODAY).places


@pytest.mark.parametrize(
    ("typed", "places"),
    [
        ("", (0, 1, 2, 3)),
        ("hall", (0, 1)),
        ("HALL tripped", (0,)),
        ("visit 147", (0, 1)),
        ("0147", (0, 1)),
        ("12", (2,)),
        ("left", (0, 1)),
        ("resistor", (1,)),
        ("r101", (0, 1)),
        ("r101 taken", (1,)),
        ("taken R101 hall", (1,)),
        ("q7l taken", ()),
        ("lam", (0, 2)),
        ("lamp 2026", (0,)),
        ("mplifier", ()),
        ("2026-03", (0, 1)),
        ("march", (0, 1, 2)),
        ("mar 2025", (2,)),
        ("14 march", (0, 2)),
        ("march 14 2026 hums", (0,)),
        ("2026-03-02", (1,)),
        ("14.3.2026", (0,)),
        ("2026-0", (0, 1)),
        ("2026-03-0", (0, 1)),
        ("(hall), \u2026 tripped!", (0,)),
    ],
)
def test_words_narrow_together(typed: str, places: tuple[int, ...]) -> None:
    assert find(typed) == places


def test_it_is_said_where_each_word_stands_and_how_often() -> None:
    found = Finder(RUNS).find("lamp march", TODAY)
    assert found.understood == (
        "lamp: plan (1), in what was written or happened (1)",
        "march: begun in March (3)",
    )
    assert found.problems == ()


def test_a_part_is_not_the_beginning_of_another_once_there_is_one_of_that_name() -> None:
    finder = Finder([run(taken="r1"), run(taken="r101")])
    assert finder.find("r1", TODAY).places == (0,)
    assert finder.find("r10", TODAY).places == (1,)


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ("lamp zebra", "no run knows \u201czebra\u201d"),
        ("2026-13", "2026-13: there is no month 13"),
        ("30 february", "30 february: there is no day 30 in February"),
        ("3/4/2026", "3/4/2026: could be 3 April or 4 March: name the month"),
        ("0/5/2026", "0/5/2026: there is no day 0 in May"),
        ("2026-03-00", "2026-03-00: there is no day 0 in March"),
        ("july", "july: no run was begun in July"),
        ("hall 2025", "no run has all of these together"),
    ],
)
def test_what_is_not_understood_is_said(typed: str, problem: str) -> None:
    found = Finder(RUNS).find(typed, TODAY)
    assert found.places == ()
    assert found.problems == (problem,)
    assert found.says.startswith(problem)


@pytest.mark.parametrize(
    ("words", "days", "used"),
    [
        ("today", Days(2026, 11, 27), 1),
        ("yesterday", Days(2026, 11, 26), 1),
        ("2026", Days(2026), 1),
        ("2026-", Days(2026), 1),
        ("2026-3", Days(2026, 3), 1),
        ("2026/03/14", Days(2026, 3, 14), 1),
        ("14.3.", Days(None, 3, 14), 1),
        ("25/12/2025", Days(2025, 12, 25), 1),
        ("12/25/2025", Days(2025, 12, 25), 1),
        ("4/4/2025", Days(2025, 4, 4), 1),
        ("1st may 2026", Days(2026, 5, 1), 3),
        ("may 2026 lamp", Days(2026, 5), 2),
        ("29 feb", Days(None, 2, 29), 2),
        ("14", Days(), 0),
        ("ma", Days(), 0),
        ("1234", Days(), 0),
        ("lamp", Days(), 0),
    ],
)
def test_days_as_they_are_typed(words: str, days: Days, used: int) -> None:
    assert days_in(words.split(), TODAY) == (days, used)


def test_nothing_to_find_is_no_trouble() -> None:
    assert Finder(()).find("lamp 2026", TODAY).places == ()
