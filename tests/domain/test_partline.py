"""A part typed as one line: what is understood, what is taken for granted and said, what is asked."""

import pytest

from benchlog.domain.expectation import Origin
from benchlog.domain.kind import Kind
from benchlog.domain.partline import describe, kind_called, read_line, read_parts, split_line
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function
from benchlog.errors import BadInput


def test_a_line_makes_part_and_what_it_should_read() -> None:
    found = read_line("R12 4k7 5%")
    assert (found.entry.designator, found.entry.kind) == ("R12", Kind.RESISTOR)
    assert (found.entry.marking, found.entry.should_read) == ("4k7 5%", "4k7 5%")
    assert found.entry.measured_with is Function.OHMS
    assert found.reading is None
    assert not found.assumed


def test_a_line_with_an_equals_sign_makes_the_reading_as_well() -> None:
    found = read_line("R12 4k7 5% = 4.68", Origin.MARKING)
    assert found.entry.from_ is Origin.MARKING
    assert found.reading is not None
    assert found.reading.value == 4680.0
    assert found.assumed == "4.68 taken as 4.68 kΩ"


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("R1 1k 1%", Kind.RESISTOR),
        ("vr1 1k 20%", Kind.POTENTIOMETER),
        ("C1 100n 10%", Kind.CAPACITOR),
        ("C1 100u 63V +50/-20%", Kind.ELECTROLYTIC),
        ("C1 film 2u2 10%", Kind.FILM),
        ("C1 capacitor 2u2 10%", Kind.CAPACITOR),
        ("L1 10u 10%", Kind.INDUCTOR),
        ("D1 0.5..0.7 V", Kind.DIODE),
        ("ZD1 0.6..0.8 V", Kind.ZENER),
        ("Q7L be 0.55..0.72 V", Kind.TRANSISTOR),
        ("T7 BE 0.55..0.72 V", Kind.TRANSISTOR),
        ("T7 transistor", Kind.TRANSISTOR),
        ("Q101BE 0.55..0.72 V", Kind.TRANSISTOR_JUNCTION),
        ("BR1", Kind.BRIDGE),
        ("VR1 10k", Kind.POTENTIOMETER),
        ("D7L bias", Kind.BIAS_PACKAGE),
        ('"Q7L mica" insulation', Kind.INSULATION),
        ("T7 winding < 20", Kind.WINDING),
        ("R8 emitter R33 5%", Kind.EMITTER_RESISTOR),
        ("R8 Emitter Resistor R33 5%", Kind.EMITTER_RESISTOR),
        ("F1 < 1", Kind.FUSE),
        ("S1 < 0.1", Kind.SWITCH),
        ('"big blue by fuse" resistor 4k7 5%', Kind.RESISTOR),
        ("R1", Kind.RESISTOR),
    ],
)
def test_the_kind_is_told_by_the_letters_or_by_its_word(line: str, kind: Kind) -> None:
    assert read_line(line).entry.kind is kind


def test_a_measure_behind_the_name_is_one_of_the_parts_own() -> None:
    found = read_line("Q7L be 0.55..0.72 V = .61")
    assert (found.entry.designator, found.measure) == ("Q7L", "be")
    assert [one.word for one in found.entry.asked] == ["be"]
    assert found.entry.expectations["be"].high == 0.72
    assert found.reading is not None
    assert (found.reading.value, found.reading.unit) == (0.61, "V")
    assert describe(found) == "Q7L, transistor, be, should read 0.55..0.72 V, read 0.61 V"


def test_a_transistor_that_is_listed_has_its_usual_measures_and_what_it_should_read_is_of_its_junctions() -> (
    None
):
    found = read_line("Q7L 0.55..0.72 V")
    assert [one.word for one in found.entry.asked] == ["ce", "be", "bc"]
    assert list(found.entry.expectations) == ["be", "bc"]
    with pytest.raises(BadInput, match="write which behind the name: ce, be, bc"):
        read_line("Q7L = .61")


def test_several_values_stand_in_the_order_of_their_kind() -> None:
    found = read_line("C5 electrolytic 4700u 20% 63V = 4650/.12/.03")
    assert [(one.measure, one.reading.value, one.reading.unit) for one in found.values] == [
        ("", pytest.approx(4650e-6), "F"),
        ("d", 0.12, ""),
        ("esr", 0.03, "ohm"),
    ]
    assert [one.name for one in found.entry.asked] == ["value", "d", "esr"]
    left_out = read_line("C5 electrolytic 4700u 20% 63V = 4650//.03")
    assert [one.measure for one in left_out.values] == ["", "esr"]
    assert [one.reading.value for one in read_line("D1 = .61/OL").values] == [0.61, Overload.POSITIVE]
    with pytest.raises(BadInput, match="has 4 values; the order is value/d/esr"):
        read_line("C5 electrolytic 4700u 20% = 4650/.12/.03/5")


def test_a_zeners_marking_is_not_what_it_reads_as_a_diode() -> None:
    entry = read_line("ZD1 6V2 5%").entry
    assert (entry.marking, entry.should_read) == ("6V2 5%", "")
    assert read_line("ZD1 0.6..0.8 V").entry.should_read == "0.6..0.8 V"


def test_a_name_in_quotes_may_have_blanks() -> None:
    assert read_line('"big blue by fuse" electrolytic').entry.designator == "big blue by fuse"


def test_what_was_taken_for_granted_is_said() -> None:
    assert read_line("C3 47u 20%").assumed == "C3 taken for an electrolytic"
    assert read_line("C3 47u 20% = 45").assumed == "C3 taken for an electrolytic; 45 taken as 45 µF"
    assert not read_line("C3 electrolytic 47u 20%").assumed


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("", "names no part"),
        ("= 4", "names no part"),
        ("R12 4k7 5% =", "nothing behind the ="),
        ("R" * 200, "too long"),
        ("X1 4k7 5%", "does not tell what kind"),
        ("12 4k7 5%", "does not tell what kind"),
        ("R12 4k7", "write a tolerance"),
        ("R12 4k7 5% = 465", "more than one way"),
        ("R12 sideways 5%", "is not a marking"),
        ("C12 sideways", "is not a marking"),
    ],
)
def test_what_cannot_be_understood_is_asked(line: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        read_line(line)


def test_a_line_can_be_taken_apart_without_being_understood() -> None:
    pieces = split_line("  R12   4k7 5%= 4.68 ")
    assert (pieces.designator, pieces.rest, pieces.reading) == ("R12", "4k7 5%", "4.68")
    assert split_line("X9").reading is None


def test_a_line_is_told_back_in_one_phrase() -> None:
    said = describe(read_line("R12 4k7 5% = 4.68"))
    assert said == "R12, resistor, should read 4.7 kΩ ±5 %, read 4.68 kΩ"
    assert describe(read_line("R12")) == "R12, resistor"
    assert describe(read_line("R12 = OL")) == "R12, resistor, read OL"
    assert read_line("D1 OL = OL").reading is not None
    assert describe(read_line("D1 = -OL")).endswith(f"read {Overload.NEGATIVE.value}")


# --- several alike -------------------------------------------------------------------------------


def test_a_run_of_designators_makes_as_many_parts_alike() -> None:
    found = read_parts("R301-R348 4k7 5%", Origin.MARKING)
    assert [one.entry.designator for one in found] == [f"R{n}" for n in range(301, 349)]
    assert {(one.entry.should_read, one.entry.kind, one.entry.from_) for one in found} == {
        ("4k7 5%", Kind.RESISTOR, Origin.MARKING)
    }
    assert [one.entry.designator for one in read_parts("R12 4k7 5% = 4.68")] == ["R12"]


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("R1-R3 1k 5% = 1.01", "R1 to R3: cannot all have read one value"),
        ("R1, R1 1k 5%", "R1: is named twice"),
        ("R1-R3 fish", "is not a marking"),
        ("R1-R3 " + "1" * 200, "is too long for one line"),
    ],
)
def test_several_parts_are_refused_as_one(line: str, problem: str) -> None:
    with pytest.raises(BadInput, match=problem):
        read_parts(line)


def test_a_word_names_a_kind_also_in_the_plural() -> None:
    assert kind_called("Electrolytics") is Kind.ELECTROLYTIC
    assert kind_called("film") is Kind.FILM
    assert kind_called("fish") is None
