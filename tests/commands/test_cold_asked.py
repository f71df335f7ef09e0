"""The cold checks at a terminal: one line each, what is missing named, and nothing answered on a person's behalf."""

import io

import pytest
from helpers.watched import MAINS, plan_text

from benchlog import textfile
from benchlog.commands.cold_asked import UNASKED, ask_cold, ask_stays
from benchlog.domain.cold_checks import ColdAnswer, ColdCheck, ColdReading
from benchlog.domain.plan import Plan
from benchlog.errors import BadInput


def plan(head: str) -> Plan:
    return textfile.parse(plan_text(MAINS).replace("cold = []", head), "plan.toml", Plan)


DEMANDS = plan('cold = ["earth", "fuses", "speakers"]')
BAD_EARTH = ColdReading("earth", 12.0, "ohm")


def asked(typed: str, *readings: ColdReading, by_itself: bool = False) -> tuple[list[ColdAnswer], list[str]]:
    said: list[str] = []
    answers = ask_cold(DEMANDS, readings, by_itself=by_itself, lines=io.StringIO(typed), tell=said.append)
    return answers, said


def test_each_check_is_asked_and_enter_is_yes() -> None:
    answers, said = asked("\ny\nx\n")
    assert [(one.check, one.holds, one.overridden) for one in answers] == [
        (ColdCheck.EARTH, True, False),
        (ColdCheck.FUSES, True, False),
        (ColdCheck.SPEAKERS, None, True),
    ]
    assert len(said) == 3
    assert all(line.startswith("> ") for line in said)


def test_what_was_read_is_not_asked() -> None:
    answers, said = asked("\n\n", ColdReading("earth", 0.2, "ohm"))
    assert (answers[0].by, answers[0].holds) == ("read", True)
    assert "earth 0.2" in said[0]
    assert not said[0].startswith(">")


def test_a_no_and_an_end_of_input_are_named_before_anything_is_live() -> None:
    with pytest.raises(BadInput) as caught:
        asked("\nn\n")
    assert [(fault.place, fault.problem) for fault in caught.value.faults] == [
        ("fuses as printed", "failed (told that it is not so)"),
        ("speakers off", "was not checked"),
    ]


def test_a_failed_earth_takes_no_override() -> None:
    with pytest.raises(BadInput, match="no key overrides"):
        asked("x\n\n\n", BAD_EARTH)
    with pytest.raises(BadInput, match="no key overrides"):
        asked("", BAD_EARTH, by_itself=True)


def test_going_up_by_itself_answers_nothing_but_says_what_it_overrides() -> None:
    answers, said = asked("", by_itself=True)
    assert [(one.holds, one.overridden, one.text) for one in answers] == [(None, True, UNASKED)] * 3
    assert all(UNASKED in line for line in said)


@pytest.mark.parametrize(
    ("kind", "typed", "by_itself", "alone"),
    [
        ("soak", "\n", False, False),
        ("soak", "n\n", False, True),
        ("soak", "", False, True),
        ("soak", "", True, True),
        ("power-up", "", True, False),
    ],
)
def test_who_stays_is_asked_of_a_long_run_alone(kind: str, typed: str, by_itself: bool, alone: bool) -> None:
    lines = io.StringIO(typed)
    found = ask_stays(
        plan(f'kind = "{kind}"\ncold = []'),
        by_itself=by_itself,
        alone=False,
        lines=lines,
        tell=lambda _: None,
    )
    assert found is alone
