"""How an LCR meter stands is kept until it is said otherwise (rule 31)."""

import pytest

from benchlog.domain.lcr import FREQUENCIES, LcrState, said_of_lcr
from benchlog.errors import BadInput


@pytest.mark.parametrize(
    ("text", "state", "rest"),
    [
        ("@ 120 Hz series", LcrState("", 120.0, "series"), ""),
        ("at 1k parallel", LcrState("", 1e3, "parallel"), ""),
        ("4650/.12/.03 @1kHz", LcrState("", 1e3), "4650/.12/.03"),
        ("Parallel", LcrState("", None, "parallel"), ""),
        ("@ 120 with the blue meter", LcrState("the blue meter", 120.0), ""),
        ("C5 4700u 20%", LcrState(), "C5 4700u 20%"),
    ],
)
def test_what_a_line_says_of_it_and_what_is_left(text: str, state: LcrState, rest: str) -> None:
    assert said_of_lcr(text, LcrState()) == (state, rest)


def test_what_was_said_before_stays() -> None:
    before = LcrState("blue", 120.0, "series")
    assert said_of_lcr("@ 1k", before)[0] == LcrState("blue", 1e3, "series")
    assert before.shown == "blue, 120 Hz, series"
    assert LcrState().shown == "no frequency yet"


def test_it_is_stepped_through_the_usual_frequencies_and_round() -> None:
    state, seen = LcrState(), []
    for _ in range(len(FREQUENCIES) + 1):
        state = state.next_frequency()
        seen.append(state.frequency)
    assert seen == [*FREQUENCIES, FREQUENCIES[0]]


def test_no_frequency_is_no_frequency() -> None:
    with pytest.raises(BadInput, match="is no frequency"):
        said_of_lcr("@ 0", LcrState())
