"""The open list: how an entry is said, and what is said of it before power is put on."""

import pytest

from benchlog.domain.putback import OpenKind, before_power, count_open, kind_of, line_of


@pytest.mark.parametrize(
    ("kind", "designator", "text", "said"),
    [
        (OpenKind.LIFTED_LEG, "R106", "", "R106: one leg lifted"),
        (OpenKind.LIFTED_LEG, "R106", " outer  end ", "R106: one leg lifted, outer end"),
        (OpenKind.REMOVED, "Q7L", "", "Q7L: taken out"),
        (OpenKind.LINK, "R106", "across F1", "link across F1"),
        (OpenKind.LINK, "R106", "", "link at R106"),
        (OpenKind.SAFETY_RESISTOR, "", "22 Ω in the + rail", "safety resistor 22 Ω in the + rail"),
        (OpenKind.BORROWED_FUSE, "", "", "borrowed fuse"),
    ],
)
def test_an_entry_is_said_as_it_is_kept(kind: OpenKind, designator: str, text: str, said: str) -> None:
    assert line_of(kind, designator, text) == said


def test_before_power_each_entry_says_what_it_means() -> None:
    said = before_power(
        [("lifted leg", "R106: one leg lifted"), ("link", "link across F1"), ("tape", "tape on S1")]
    )
    assert said == (
        "Still open, R106: one leg lifted: what it belongs to stands open under power.",
        "Still open, link across F1: what it bridges does nothing.",
        "Still open, tape on S1.",
    )


def test_every_kind_means_something_under_power() -> None:
    for kind in OpenKind:
        assert kind_of(kind.value) is kind
        (said,) = before_power([(kind.value, "it")])
        assert said != "Still open, it."


def test_nothing_open_says_nothing() -> None:
    assert (count_open(0), count_open(3), before_power([])) == ("", "3 to put back", ())
    assert kind_of("tape") is None
