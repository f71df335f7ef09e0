"""The order of parts: a permutation of what was given, with the other side next wherever there is one."""

from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.designator import Mirror, fold
from benchlog.domain.partsorder import in_pairs

MIRROR = Mirror(["R1## <-> R2##", "*L <-> *R"], {"T1": "T9"})


def ordered(*names: str) -> list[str]:
    """Some names in the order in which they are taken."""
    return in_pairs(names, str, MIRROR.other)


def test_each_part_is_followed_by_its_other_side() -> None:
    assert ordered("R101", "R102", "Q7L", "R201", "R202", "Q7R") == [
        *("R101", "R201"),
        *("R102", "R202"),
        *("Q7L", "Q7R"),
    ]
    assert ordered("T9", "C1", "T1") == ["T9", "T1", "C1"]


def test_a_part_without_an_other_side_keeps_its_place() -> None:
    assert ordered("R101", "R102", "F1") == ["R101", "R102", "F1"]
    assert ordered() == []


def test_case_and_blanks_do_not_count() -> None:
    assert ordered("q7l", "C1", " Q7R ") == ["q7l", " Q7R ", "C1"]


def test_what_is_ordered_need_not_be_a_name() -> None:
    parts = [("R101", 1), ("R102", 2), ("R201", 3)]
    assert in_pairs(parts, lambda part: part[0], lambda part: MIRROR.other(part[0])) == [
        ("R101", 1),
        ("R201", 3),
        ("R102", 2),
    ]


NAMES = st.sampled_from(["R101", "R102", "R201", "r202", "Q7L", "Q7R", "Q7 l", "T1", "T9", "C1"])


@given(st.lists(NAMES))
def test_nothing_is_lost_and_nothing_comes_twice(names: list[str]) -> None:
    found = in_pairs(list(enumerate(names)), lambda item: item[1], lambda item: MIRROR.other(item[1]))
    assert sorted(found) == list(enumerate(names))


@given(st.lists(NAMES, unique_by=fold))
def test_both_sides_are_neighbours(names: list[str]) -> None:
    found = in_pairs(names, str, MIRROR.other)
    folded = [fold(name) for name in found]
    for at, name in enumerate(found):
        other = MIRROR.other(name)
        if other and fold(other) in folded:
            assert abs(folded.index(fold(other)) - at) == 1
