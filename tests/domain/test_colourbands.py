"""Colour bands: every colour in every place it may stand, and none where it may not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.colourbands import BANDS, Coded, decode_bands, words
from benchlog.errors import BadInput


def bands(text: str) -> Coded:
    return decode_bands(words(text))


def test_three_to_six_bands_are_read() -> None:
    assert bands("red red orange") == Coded(22e3, ((-0.2, 0.2),), None)
    assert bands("Yellow, violet, red, gold") == Coded(4700.0, ((-0.05, 0.05),), None)
    assert bands("orange-orange-silver-silver") == Coded(0.33, ((-0.1, 0.1),), None)
    assert bands("brown black black pink brown") == Coded(0.1, ((-0.01, 0.01),), None)
    assert bands("brown black black red brown red") == Coded(10e3, ((-0.01, 0.01),), 50)


def test_gray_and_purple_are_known() -> None:
    assert bands("gray red purple brown") == bands("grey red violet brown")


def test_a_grey_tolerance_is_offered_and_never_taken() -> None:
    assert bands("red red orange grey").tolerances == ((-0.0005, 0.0005), (-0.0001, 0.0001))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("red red", "2 bands are no resistor; give 3 to 6 colours"),
        ("red red red red red red red", "7 bands are no resistor"),
        ("gold red red", "gold is not a digit; read the bands from the other end"),
        ("red gold red", "gold is not a digit"),
        ("red red red black", "black is not a tolerance; read the bands from the other end"),
        ("red red red red brown pink", "pink is not a temperature coefficient"),
        ("red redd red", '"redd" is not a band colour; there are pink, silver,'),
    ],
)
def test_a_colour_in_the_wrong_place_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(BadInput) as caught:
        bands(text)
    assert sentence in str(caught.value)


def test_only_a_text_that_begins_with_a_colour_is_bands() -> None:
    assert words("4k7 red") == ()
    assert words("") == ()


@given(st.lists(st.sampled_from([*BANDS, "taupe"]), min_size=0, max_size=8))
def test_any_colours_are_a_resistor_or_bad_input(colours: list[str]) -> None:
    try:
        found = decode_bands(tuple(colours))
    except BadInput:
        return
    assert found.value >= 0
    assert found.tolerances
