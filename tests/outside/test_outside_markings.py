"""Markings against published tables, one table a source."""

import math

import pytest
from helpers.outside import COMMON_PRACTICE, Source, row

from benchlog.domain.kind import Kind
from benchlog.domain.marking import decode

R, C, L, E = Kind.RESISTOR, Kind.CAPACITOR, Kind.INDUCTOR, Kind.ELECTROLYTIC

WIKIPEDIA_60062 = Source("IEC 60062, letter code as printed at en.wikipedia.org/wiki/IEC/EN_60062")
PROBSEE = Source("IEC 60062, multiplier letters of resistance as printed at probsee.com/p/RKM_code")
WIKISUM = Source(
    "IEC 60062, multiplier letters of capacitance and 4R7 of inductance as printed at wikisum.wiki/wiki/RKM_code"
)
SAME_LETTERS = Source("IEC 60062, letter code as printed at en.wikipedia.org/wiki/IEC/EN_60062", follows=True)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        row(WIKIPEDIA_60062, "R47", None, 0.47),
        row(WIKIPEDIA_60062, "R10", None, 0.1),
        row(WIKIPEDIA_60062, "R300", None, 0.3),
        row(WIKIPEDIA_60062, "4R7", None, 4.7),
        row(WIKIPEDIA_60062, "470R", None, 470.0),
        row(WIKIPEDIA_60062, "4K7", None, 4.7e3),
        row(WIKIPEDIA_60062, "47K", R, 47e3),
        row(WIKIPEDIA_60062, "47K3", None, 47.3e3),
        row(WIKIPEDIA_60062, "1K0", None, 1e3),
        row(WIKIPEDIA_60062, "470K", R, 470e3),
        row(WIKIPEDIA_60062, "2M2", None, 2.2e6),
        row(WIKIPEDIA_60062, "4M7", None, 4.7e6),
        row(WIKIPEDIA_60062, "10p", None, 10e-12),
        row(WIKIPEDIA_60062, "4n7", None, 4.7e-9),
        row(WIKIPEDIA_60062, "1µ0", None, 1e-6),
        row(WIKIPEDIA_60062, "100n", None, 100e-9),
        row(SAME_LETTERS, "p33", None, 0.33e-12),
        row(SAME_LETTERS, "2µ2", None, 2.2e-6),
        row(SAME_LETTERS, "4m7", None, 4.7e-3),
        row(SAME_LETTERS, "1F0", None, 1.0),
        row(SAME_LETTERS, "R0047", None, 4.7e-3),
        row(SAME_LETTERS, "5L0", None, 5e-3),
        row(PROBSEE, "1L0", None, 1e-3),
        row(PROBSEE, "1R0", None, 1.0),
        row(PROBSEE, "1K0", None, 1e3),
        row(PROBSEE, "1M0", None, 1e6),
        row(PROBSEE, "1G0", None, 1e9),
        row(WIKISUM, "1p0", None, 1e-12),
        row(WIKISUM, "1n0", None, 1e-9),
        row(WIKISUM, "1µ0", None, 1e-6),
        row(WIKISUM, "1m0", None, 1e-3),
        row(WIKISUM, "1F0", None, 1.0),
        row(WIKISUM, "4R7", L, 4.7e-6),
        row(COMMON_PRACTICE, "2u2", None, 2.2e-6),
    ],
)
def test_a_letter_at_the_decimal_point(text: str, kind: Kind | None, value: float) -> None:
    found = decode(text, kind)
    assert not found.choices
    assert found.value == value


@pytest.mark.parametrize(("milli", "mega"), [row(WIKISUM, "4m7", "4M7")])
def test_the_case_counts(milli: str, mega: str) -> None:
    assert (decode(milli).value, decode(mega).value) == (4.7e-3, 4.7e6)


ELECTRO_TECH = Source("capacitor letter codes, electro-tech-online.com/threads/capacitor-letter.485")


@pytest.mark.parametrize(
    ("text", "kind", "value", "tolerance"),
    [
        row(ELECTRO_TECH, "47K", R, 47e3, None),
        row(ELECTRO_TECH, "47K", C, 47e-12, (-0.1, 0.1)),
    ],
)
def test_47k_is_decided_by_the_kind_of_part(
    text: str, kind: Kind, value: float, tolerance: tuple[float, float] | None
) -> None:
    found = decode(text, kind)
    assert (found.value, found.tolerance) == (value, tolerance)
    open_question = decode(text)
    assert open_question.value is None
    assert value in [one.value for one in open_question.choices]


DUMMIES = Source("Electronics Capacitor Tolerance Code, dummies.com")
SANYO = Source("Sanyo DP19649 service manual p. 41, manualarchiveguide.com: letters C, N, T, Z")
W9JZ = Source("letter H as 3 per cent, w9jz.org 2016/03")
LETTERS = Source("IEC 60062, tolerance letters (dummies.com, electro-tech-online.com 485)", follows=True)


def _tolerances(text: str) -> list[tuple[float, float]]:
    """What is decided, or what is offered: an F may be the letter or the farad."""
    found = decode(text, C)
    offered = [one.tolerance for one in found.choices]
    return [one for one in (found.tolerance, *(offered if text.endswith("F") else ())) if one]


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        row(DUMMIES, "100nB", -0.001, 0.001),
        row(DUMMIES, "100nD", -0.005, 0.005),
        row(DUMMIES, "1u0 F", -0.01, 0.01),
        row(DUMMIES, "100nG", -0.02, 0.02),
        row(DUMMIES, "100nJ", -0.05, 0.05),
        row(DUMMIES, "100nK", -0.10, 0.10),
        row(DUMMIES, "100nM", -0.20, 0.20),
        row(DUMMIES, "100nS", -0.20, 0.50),
        row(SANYO, "100nC", -0.0025, 0.0025),
        row(SANYO, "100nN", -0.30, 0.30),
        row(SANYO, "100nT", -0.10, 0.50),
        row(SANYO, "100nZ", -0.20, 0.80),
    ],
)
def test_a_tolerance_letter(text: str, low: float, high: float) -> None:
    assert (low, high) in _tolerances(text)


@pytest.mark.parametrize(
    ("text", "picofarads"),
    [
        row(ELECTRO_TECH, "4p7B", 0.1),
        row(ELECTRO_TECH, "4p7C", 0.25),
        row(ELECTRO_TECH, "4p7D", 0.5),
        row(ELECTRO_TECH, "4p7 F", 1.0),
    ],
)
def test_below_ten_picofarads_a_letter_is_absolute(text: str, picofarads: float) -> None:
    value = decode(text, C).value
    assert value is not None
    assert any(high * value == pytest.approx(picofarads * 1e-12) for _, high in _tolerances(text))


@pytest.mark.parametrize(
    ("text", "share"),
    [
        row(W9JZ, "4K7H", 0.03),
        row(
            Source(
                "old capacitor code P as -0/+100 per cent, electro-tech-online.com/threads/capacitor-letter.485"
            ),
            "1u0P",
            1.0,
        ),
    ],
)
def test_a_letter_on_which_lists_disagree_is_only_offered(text: str, share: float) -> None:
    found = decode(text)
    assert found.tolerance is None
    assert share in [one.tolerance[1] for one in found.choices if one.tolerance]
    assert len(found.choices) > 1


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        row(LETTERS, "4K7J", 4465.0, 4935.0),
        row(LETTERS, "100n M", 80e-9, 120e-9),
        row(LETTERS, "4p7C", 4.45e-12, 4.95e-12),
        row(LETTERS, "10 µF Z", 8e-6, 18e-6),
        row(LETTERS, "10 µF S", 8e-6, 15e-6),
    ],
)
def test_a_whole_marking_gives_its_limits(text: str, low: float, high: float) -> None:
    found = decode(text)
    assert found.value is not None
    assert found.tolerance is not None
    assert [found.value * (1 + share) for share in found.tolerance] == pytest.approx([low, high])


CHART = Source("IEC 60062, resistor colour code, chart at resistorcolorcodes.org/chart")
WIKIMILI = Source("IEC 60062, resistor colour code, example at wikimili.com/en/Electronic_color_code")
BANDS = Source("IEC 60062, resistor colour code, chart at resistorcolorcodes.org/chart", follows=True)


@pytest.mark.parametrize(
    ("text", "value", "share"),
    [
        row(CHART, "brown black red gold", 1e3, 0.05),
        row(CHART, "yellow violet red gold", 4.7e3, 0.05),
        row(CHART, "red red orange gold", 22e3, 0.05),
        row(CHART, "brown black black gold brown", 10.0, 0.01),
        row(WIKIMILI, "red red blue brown brown", 2.26e3, 0.01),
        row(BANDS, "brown black black red brown red", 10e3, 0.01),
        row(BANDS, "orange orange silver silver", 0.33, 0.10),
        row(CHART, "red red orange", 22e3, 0.20),
    ],
)
def test_a_whole_row_of_bands(text: str, value: float, share: float) -> None:
    found = decode(text)
    assert (found.value, found.tolerance) == (value, (-share, share))


@pytest.mark.parametrize(
    ("colour", "digit"),
    [
        row(CHART, colour, digit)
        for digit, colour in enumerate(
            ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
        )
    ],
)
def test_a_band_as_a_digit(colour: str, digit: int) -> None:
    assert decode(f"brown {colour} black").value == 10.0 + digit


@pytest.mark.parametrize(
    ("colour", "power"),
    [
        row(CHART, colour, power)
        for power, colour in enumerate(
            (
                "pink", "silver", "gold", "black", "brown", "red", "orange", "yellow", "green", "blue", "violet",
                "grey", "white",
            ),
            -3,
        )
    ],
)  # fmt: skip
def test_a_band_as_a_multiplier(colour: str, power: int) -> None:
    assert decode(f"brown black {colour} gold").value == pytest.approx(10.0 * 10.0**power)


@pytest.mark.parametrize(
    ("colour", "per_cent"),
    [
        row(CHART, "silver", 10.0),
        row(CHART, "gold", 5.0),
        row(CHART, "brown", 1.0),
        row(CHART, "red", 2.0),
        row(CHART, "orange", 0.05),
        row(CHART, "yellow", 0.02),
        row(CHART, "green", 0.5),
        row(CHART, "blue", 0.25),
        row(CHART, "violet", 0.1),
    ],
)
def test_a_band_as_a_tolerance(colour: str, per_cent: float) -> None:
    tolerance = decode(f"brown black red {colour}").tolerance
    assert tolerance is not None
    assert tolerance == pytest.approx((-per_cent / 100, per_cent / 100))


@pytest.mark.parametrize(
    ("colour", "tempco"),
    [
        row(CHART, "black", 250),
        row(CHART, "brown", 100),
        row(CHART, "red", 50),
        row(CHART, "orange", 15),
        row(CHART, "yellow", 25),
        row(CHART, "green", 20),
        row(CHART, "blue", 10),
        row(CHART, "violet", 5),
        row(CHART, "grey", 1),
    ],
)
def test_a_sixth_band_as_a_temperature_coefficient(colour: str, tempco: int) -> None:
    assert decode(f"brown black black red brown {colour}").tempco == tempco


@pytest.mark.parametrize(("text", "per_cent"), [row(CHART, "red red orange grey", 0.05)])
def test_a_grey_tolerance_is_offered_and_never_taken(text: str, per_cent: float) -> None:
    found = decode(text)
    assert found.tolerance is None
    assert per_cent / 100 in [one.tolerance[1] for one in found.choices if one.tolerance]
    assert len(found.choices) > 1


JINPEI = Source("three-digit capacitor code, china-jinpei.com")
KEMET = Source("KEMET ELH159M part number, dtsheet.com/model/4400928: the last digit is the number of zeros")
CODE = Source("three-digit capacitor code, china-jinpei.com", follows=True)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        row(JINPEI, "332", 3300e-12),
        row(CODE, "101", 100e-12),
        row(CODE, "473", 47e-9),
        row(CODE, "104", 100e-9),
        row(CODE, "105", 1e-6),
        row(CODE, "226", 22e-6),
    ],
)
def test_a_three_digit_code_on_a_capacitor(text: str, value: float) -> None:
    found = decode(text, C)
    assert not found.choices
    assert found.value == value


@pytest.mark.parametrize(("text", "value"), [row(KEMET, "159", 15000e-6)])
def test_nine_zeros_are_offered_beside_a_tenth_and_neither_is_taken(text: str, value: float) -> None:
    for kind in (None, C, E, Kind.FILM):
        found = decode(text, kind)
        assert found.value is None
        values = [one.value for one in found.choices]
        assert any(math.isclose(one, value) for one in values)
        assert any(math.isclose(one, 1.5e-12) for one in values)
