"""Markings: what the trade prints on parts, and never a guess where two things can be meant."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.kind import CAPACITORS, Kind
from benchlog.domain.marking import Decoded, decode
from benchlog.domain.quantity import Overload, Quantity
from benchlog.errors import BadInput


def said(text: str, kind: Kind | None = None) -> tuple[Kind | None, float | None, str]:
    found = decode(text, kind)
    assert not found.choices
    return found.kind, found.value, found.unit


def choices(text: str, kind: Kind | None = None) -> list[str]:
    found = decode(text, kind)
    assert found.tolerance is None
    return [str(one) for one in found.choices]


@pytest.mark.parametrize(
    ("text", "kind", "value", "unit"),
    [
        ("4k7", Kind.RESISTOR, 4700.0, "ohm"),
        ("47k", Kind.RESISTOR, 47e3, "ohm"),
        ("47K3", Kind.RESISTOR, 47.3e3, "ohm"),
        ("2G2", Kind.RESISTOR, 2.2e9, "ohm"),
        ("5L0", Kind.RESISTOR, 0.005, "ohm"),
        ("470 Ω", Kind.RESISTOR, 470.0, "ohm"),
        ("4n7", Kind.CAPACITOR, 4.7e-9, "F"),
        ("4m7", Kind.CAPACITOR, 4.7e-3, "F"),
        ("1F0", Kind.CAPACITOR, 1.0, "F"),
        ("50 MFD", Kind.CAPACITOR, 50e-6, "F"),
        ("50 mmfd", Kind.CAPACITOR, 50e-12, "F"),
        ("0.22", None, 0.22, ""),
        ("0,22", None, 0.22, ""),
        ("47", None, 47.0, ""),
        ("2e-5", None, 2e-5, ""),
        ("-38.9 V", None, -38.9, "V"),
        ("-5V1", None, -5.1, "V"),
        ("5V1", None, 5.1, "V"),
        ("10m", None, 0.01, ""),
        ("47 uH", Kind.INDUCTOR, 47e-6, "H"),
        ("50 Hz", None, 50.0, "Hz"),
    ],
)
def test_what_is_plain_without_a_kind(text: str, kind: Kind | None, value: float, unit: str) -> None:
    assert said(text) == (kind, value, unit)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("47K", Kind.RESISTOR, 47e3),
        ("470 5%", Kind.RESISTOR, 470.0),
        ("22J", Kind.RESISTOR, 22.0),
        ("4.7", Kind.EMITTER_RESISTOR, 4.7),
        ("-4k7", Kind.RESISTOR, -4700.0),
        ("4R7", Kind.INDUCTOR, 4.7e-6),
        ("10u", Kind.INDUCTOR, 10e-6),
        ("2m2", Kind.INDUCTOR, 2.2e-3),
        ("4n7H", Kind.INDUCTOR, 4.7e-9),
        ("47K", Kind.CAPACITOR, 47e-12),
        ("104", Kind.CAPACITOR, 100e-9),
        ("104K", Kind.CAPACITOR, 100e-9),
        ("0.1", Kind.CAPACITOR, 100e-9),
        ("4.7", Kind.CAPACITOR, 4.7e-12),
        ("4700", Kind.CAPACITOR, 4.7e-9),
        ("10m", Kind.CAPACITOR, 10e-3),
        ("0.22K", Kind.FILM, 220e-9),
        ("1000", Kind.FILM, 1e-9),
        ("47", Kind.ELECTROLYTIC, 47e-6),
        ("100", Kind.ELECTROLYTIC, 100e-6),
        ("4700", Kind.ELECTROLYTIC, 4700e-6),
        ("0.47", Kind.ELECTROLYTIC, 0.47e-6),
        ("226", Kind.ELECTROLYTIC, 22e-6),
        ("5.1", Kind.ZENER, 5.1),
        ("2e-7", Kind.FILM, 2e-7),
        ("12m", Kind.ZENER, 0.012),
        ("0.8 10%", Kind.WINDING, 0.8),
        ("3.15 A", Kind.FUSE, 3.15),
        ("3", Kind.FUSE, 3.0),
    ],
)
def test_the_kind_decides_what_is_meant(text: str, kind: Kind, value: float) -> None:
    assert said(text, kind)[:2] == (kind, value)


@pytest.mark.parametrize(
    ("text", "kind", "meant"),
    [
        ("47K", None, ["47 kΩ", "47 pF ±10 % (in pF, K for its tolerance)"]),
        (
            "22J",
            None,
            ["22 Ω ±5 % (as it stands, J for its tolerance)", "22 pF ±5 % (in pF, J for its tolerance)"],
        ),
        ("104", None, ["104 (as it stands)", "100 nF (as a three-digit code in pF)"]),
        ("1,234", None, ["1.234 (1,234 as 1.234; as it stands)", "1234 (1,234 as 1234; as it stands)"]),
        ("4.7 mF", None, ["4700 µF (mF as millifarad)", "4.7 µF (mF in the old sense of µF)"]),
        ("4E7", None, ["4.7 Ω (E stands for the point)", "40000000 (E as a power of ten)"]),
        (
            "5L",
            Kind.RESISTOR,
            ["0.005 Ω (L for the point)", "5 Ω ±0.01 % (as it stands, L for its tolerance)"],
        ),
        ("4m7", Kind.RESISTOR, ["0.0047 Ω (m as milli)", "4.7 MΩ (m meant as M)"]),
        ("10m", Kind.RESISTOR, ["0.01 Ω (m as milli)", "10 MΩ (m meant as M)"]),
        ("220", Kind.RESISTOR, ["220 Ω (as it stands)", "22 Ω (as a code that ends in the number of zeros)"]),
        (
            "1002",
            Kind.RESISTOR,
            ["1.002 kΩ (as it stands)", "10 kΩ (as a code that ends in the number of zeros)"],
        ),
        ("100", Kind.CAPACITOR, ["10 pF (as a three-digit code in pF)", "100 pF (in pF)"]),
        ("47", Kind.FILM, ["47 pF (in pF)", "47 µF (in µF)"]),
        ("331", Kind.ELECTROLYTIC, ["330 pF (as a three-digit code in pF)", "331 µF (in µF)"]),
        ("4n7F", None, ["4.7 nF", "4.7 nF ±1 % (F for its tolerance)"]),
        ("100n F", None, ["100 nF", "100 nF ±1 % (F for its tolerance)"]),
        ("4K7H", None, ["4.7 kΩ ±3 %", "4.7 kΩ ±2.5 %"]),
        ("1u0P", None, ["1 µF +100/-0 %", "1 µF ±0.02 %"]),
    ],
)
def test_what_can_be_meant_in_two_ways_is_asked(text: str, kind: Kind | None, meant: list[str]) -> None:
    assert choices(text, kind) == meant


@pytest.mark.parametrize("kind", [None, *sorted(CAPACITORS)])
@pytest.mark.parametrize("text", ["478", "479", "159"])
def test_a_code_ending_in_8_or_9_is_never_decided(text: str, kind: Kind | None) -> None:
    found = decode(text, kind)
    assert found.value is None
    values = sorted(one.value for one in found.choices if one.unit == "F")
    zeros, times = int(text[2]), {"8": 0.01, "9": 0.1}[text[2]]
    assert values == pytest.approx([int(text[:2]) * times * 1e-12, float(f"{text[:2]}e{zeros - 12}")])


@pytest.mark.parametrize(
    "text", ["4K7E", "4K7H", "4K7L", "4K7P", "4K7W", "1u0Q", "10E", "10L", "100H", "100P"]
)
def test_disputed_letters_are_only_choices(text: str) -> None:
    found = decode(text)
    assert found.choices
    assert found.tolerance is None


def test_what_the_choices_agree_on_is_said() -> None:
    found = decode("4K7H")
    assert (found.kind, found.value, found.unit, found.tolerance) == (Kind.RESISTOR, 4700.0, "ohm", None)
    assert decode("47K").value is None
    assert decode("47K", Kind.FILM).kind is Kind.FILM


@pytest.mark.parametrize(
    ("text", "tolerance"),
    [
        ("4K7J", (-0.05, 0.05)),
        ("470RJ", (-0.05, 0.05)),
        ("47kF", (-0.01, 0.01)),
        ("47K J", (-0.05, 0.05)),
        ("100n M", (-0.2, 0.2)),
        ("100nJ", (-0.05, 0.05)),
        ("10 µF Z", (-0.2, 0.8)),
        ("10u +50/-20% 63V", (-0.2, 0.5)),
        ("47K 5%", (-0.05, 0.05)),
        ("4k7", None),
    ],
)
def test_tolerances_are_read(text: str, tolerance: tuple[float, float] | None) -> None:
    assert decode(text).tolerance == tolerance


def test_ratings_are_kept_and_tell_the_kind() -> None:
    assert decode("0.1u 625V").ratings == (Quantity(625.0, "V"),)
    assert said("0.22 63V") == (Kind.CAPACITOR, 220e-9, "F")
    assert said("0.22 5 W") == (Kind.RESISTOR, 0.22, "ohm")
    assert decode("100u 63 V 105°C M") == Decoded(
        "100u 63 V 105°C M",
        Kind.CAPACITOR,
        100e-6,
        "F",
        (-0.2, 0.2),
        ratings=(Quantity(63.0, "V"), Quantity(105.0, "degC")),
    )


def test_overload_is_understood() -> None:
    found = decode("OL")
    assert found.overload is Overload.POSITIVE
    assert found.value is None


def test_bands_are_read_for_resistors_alone() -> None:
    assert said("yellow violet red gold") == (Kind.RESISTOR, 4700.0, "ohm")
    assert decode("brown black black red brown red", Kind.EMITTER_RESISTOR).tempco == 50
    grey = decode("red red orange grey")
    assert (grey.value, grey.tolerance, len(grey.choices)) == (22e3, None, 2)
    with pytest.raises(BadInput, match="are bands of a resistor"):
        decode("yellow violet red gold", Kind.FILM)


@pytest.mark.parametrize(
    ("text", "kind", "sentence"),
    [
        ("", None, '"": is not a marking; write it as in 4k7'),
        ("abc", None, '"abc": is not a marking'),
        ("x" * 200, None, "is too long for a marking"),
        ("J47", Kind.RESISTOR, "is not a marking"),
        ("47", Kind.INDUCTOR, "is not a marking"),
        ("100n", Kind.RESISTOR, '"100n": is in F; the marking of a resistor is in Ω.'),
        ("1K", Kind.INDUCTOR, "is in Ω; the marking of an inductor is in H."),
        ("4K7", Kind.EMITTER_RESISTOR, None),
        ("4M7", Kind.FILM, "is in Ω; the marking of a film is in F."),
        ("4K7J 5%", None, "has more than one tolerance"),
        ("4K7J K", None, "has more than one tolerance"),
        ("4K7Z", None, "has a letter that is no tolerance here; write it in per cent"),
        ("1e999", None, "is what a meter sends for no number"),
        ("100u 63V J J", None, "is not a marking"),
        ("100u 1,234V", None, "is not a marking"),
        ("100u 63X", None, "is not a marking"),
        ("4E7", Kind.FILM, "is not a marking"),
        ("-x", None, "is not a value"),
    ],
)
def test_what_means_nothing_is_refused(text: str, kind: Kind | None, sentence: str | None) -> None:
    if sentence is None:
        assert decode(text, kind).value
        return
    with pytest.raises(BadInput) as caught:
        decode(text, kind)
    assert sentence in str(caught.value)


def test_a_kilofarad_is_a_tolerance() -> None:
    assert decode("47kF", Kind.RESISTOR).tolerance == (-0.01, 0.01)
    assert decode("10H", Kind.INDUCTOR).value == 10.0


KINDS = st.sampled_from([None, *Kind])


@given(st.text(max_size=30), KINDS)
def test_any_text_is_decoded_or_refused(text: str, kind: Kind | None) -> None:
    try:
        found = decode(text, kind)
    except BadInput as error:
        assert str(error)
        return
    assert found.text == text


@given(st.text("0123456789.,+-eEkKmMuµnpRVFGLJZHPWQS ohm%Ωredblack", max_size=12), KINDS)
def test_any_likely_text_is_decoded_or_refused(text: str, kind: Kind | None) -> None:
    try:
        found = decode(text, kind)
    except BadInput as error:
        assert str(error)
        return
    assert bool(found.choices) or found.value is not None or found.overload is not None


@given(st.integers(0, 9999), st.integers(1, 9999), st.sampled_from("RkMGpnum"))
def test_a_letter_at_the_point_is_read_as_written(whole: int, rest: int, point: str) -> None:
    exponent = {"R": 0, "k": 3, "M": 6, "G": 9, "p": -12, "n": -9, "u": -6, "m": -3}[point]
    assert decode(f"{whole}{point}{rest}").value == float(f"{whole}.{rest}e{exponent}")


@given(st.integers(10, 99), st.integers(1, 7))
def test_a_three_digit_code_is_two_digits_and_zeros(digits: int, zeros: int) -> None:
    assert decode(f"{digits}{zeros}", Kind.CAPACITOR).value == float(f"{digits}e{zeros - 12}")
