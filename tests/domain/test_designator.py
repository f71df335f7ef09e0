"""Designators: natural order, and the same part on the other side."""

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.designator import Mirror, fold, leading, natural, number_in, several
from benchlog.errors import BadInput


def test_designators_come_in_the_order_a_person_counts() -> None:
    wanted = [
        "+B1",
        "-B1",
        "Big blue by fuse",
        "C12",
        "D3",
        "D3a",
        "Q7L",
        "Q7R",
        "r1",
        "R2",
        "R2a",
        "R10",
        "R101",
    ]
    mixed = wanted[:]
    random.Random(1).shuffle(mixed)
    assert sorted(mixed, key=natural) == wanted


def test_case_and_blanks_do_not_count() -> None:
    assert fold("  q7L   be ") == fold("Q7l be")
    assert natural("r007") == natural("R7")


@given(st.lists(st.text(max_size=12), max_size=6))
def test_any_texts_can_be_sorted(texts: list[str]) -> None:
    keys = sorted(natural(text) for text in texts)
    assert all(one <= next_one for one, next_one in itertools.pairwise(keys))


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_numbers_sort_as_numbers(first: int, second: int) -> None:
    assert (natural(f"R{first}") < natural(f"R{second}")) == (first < second)


RULES = ("R1## <-> R2##", "*L <-> *R", "L+ * <-> R+ *")


@pytest.mark.parametrize(
    ("designator", "other"),
    [
        ("R101", "R201"),
        ("r214", "R114"),
        ("Q7L", "Q7R"),
        ("q7r", "q7L"),
        ("L+ rail", "R+ rail"),
        ("l+  rail", "R+ rail"),
        ("R1011", None),
        ("R1x1", None),
        ("R1²1", None),
        ("C5", None),
        ("L", "R"),
        ("", None),
    ],
)
def test_a_rule_names_the_other_side(designator: str, other: str | None) -> None:
    assert Mirror(RULES).other(designator) == other


def test_the_table_goes_before_the_rules_and_holds_both_ways() -> None:
    mirror = Mirror(RULES, {"R101": "R250", "R251": "R101"})
    assert mirror.other(" r101 ") == "R250"
    assert mirror.other("R250") == "R101"
    assert mirror.other("R251") == "R101"
    assert mirror.other("R102") == "R202"
    assert Mirror().other("R1") is None


def test_every_bad_rule_is_named_at_once() -> None:
    with pytest.raises(BadInput) as caught:
        Mirror(("R1## -> R2##", "R1## <-> R2#", "*L* <-> *R*", "R1 <-> r1", "R1## <-> R2##"))
    assert [fault.problem for fault in caught.value.faults] == [
        "has no <->",
        "does not have the same # and * in the same order on both sides",
        "has more than one *",
        "names the same part on both sides",
    ]
    assert str(caught.value).startswith('"R1## -> R2##": has no <->; write a rule such as')


@given(st.text(max_size=20), st.text(max_size=20))
def test_any_rule_is_read_or_refused(rule: str, designator: str) -> None:
    try:
        Mirror((rule, f"{rule} <-> x{rule}")).other(designator)
    except BadInput as error:
        assert error.faults


@given(st.text("0123456789", min_size=2, max_size=2))
def test_the_other_side_of_the_other_side_is_the_part_itself(digits: str) -> None:
    mirror = Mirror(RULES)
    other = mirror.other(f"R1{digits}")
    assert other == f"R2{digits}"
    assert mirror.other(other) == f"R1{digits}"


# --- several in one go ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "names", "rest"),
    [
        ("R301-R304 4k7 5%", ["R301", "R302", "R303", "R304"], "4k7 5%"),
        ("R301..R303 4k7", ["R301", "R302", "R303"], "4k7"),
        ("R301 – R302 4k7", ["R301", "R302"], "4k7"),
        ("R301 to R302", ["R301", "R302"], ""),
        ("R98-101 1k", ["R98", "R99", "R100", "R101"], "1k"),
        ("R08-R10 1k", ["R08", "R09", "R10"], "1k"),
        ("Q101BE-Q103BE 0.5..0.7 V", ["Q101BE", "Q102BE", "Q103BE"], "0.5..0.7 V"),
        ("R1, R3, R5-R7 and R9 1k 5%", ["R1", "R3", "R5", "R6", "R7", "R9"], "1k 5%"),
        ("r1;r2 & r3 1k", ["r1", "r2", "r3"], "1k"),
    ],
)
def test_a_line_may_begin_with_several_designators(text: str, names: list[str], rest: str) -> None:
    assert leading(text) == (tuple(names), rest)


@pytest.mark.parametrize(
    "text",
    ["R12 4k7 5%", "R12 -4.7 V", "R12-4k7", "CN1-3", "+B1 to +B2", "Q7L be .61", "R1 R2", "", "47k 5%"],
)
def test_what_may_be_one_part_is_one(text: str) -> None:
    assert leading(text) == ((), text)


def test_a_cell_of_designators_may_part_them_by_blanks_as_well() -> None:
    assert several("R1 R2  R3") == ("R1", "R2", "R3")
    assert several("R1, R2") == ("R1", "R2")
    assert several("Q7L be") == ("Q7L be",)
    assert several("big  blue by fuse") == ("big blue by fuse",)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("R9-R3", "runs backwards"),
        ("R9-R9", "begins and ends with one part"),
        ("R1-C9", "begins and ends with different letters"),
        ("Q1BE-Q4", "begins and ends with different letters"),
        ("R1-R9999", "names 9999 parts"),
    ],
)
def test_a_run_that_cannot_be_meant_is_refused(text: str, problem: str) -> None:
    with pytest.raises(BadInput, match=problem):
        leading(text)


def test_the_number_of_a_part_is_its_last_one() -> None:
    assert [number_in(name) for name in ("Q101BE", "R2-7", "+B", "12")] == ["101", "7", "", "12"]
