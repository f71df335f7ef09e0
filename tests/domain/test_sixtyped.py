"""The six numbers as they are typed: what each field takes, and every fault under its own field."""

import pytest

from benchlog.domain.plan_templates import Template
from benchlog.domain.sixnumbers import MeterAtHand, SixNumbers
from benchlog.domain.sixtyped import KINDS, Field, kind_of, read_six
from benchlog.errors import BadInput

METERS = (MeterAtHand("dmm", mains_side=True),)
TYPED = {
    Field.MAINS: "230",
    Field.RAIL: "+/-44",
    Field.CHANNELS: "2",
    Field.IDLE: "16.5",
    Field.ACROSS: ".33",
    Field.LAMP: "100",
}
BEHIND_A_LAMP, BOARD, SINGLE = KINDS[1], KINDS[2], KINDS[4]


def faults(texts: dict[Field, str], kind: int = 2) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        read_six(KINDS[kind - 1], texts, METERS)
    return {fault.place: fault.problem for fault in caught.value.faults}


def test_what_the_number_pad_types_is_read() -> None:
    assert read_six(BEHIND_A_LAMP, TYPED, METERS) == SixNumbers(
        230.0, 44.0, True, 2, 0.0165, 0.33, 100.0, METERS
    )


@pytest.mark.parametrize(
    ("text", "volts"), [("16.5", 0.0165), ("16,5", 0.0165), ("5.", 0.005), ("16.5 mV", 0.0165), ("1 V", 1.0)]
)
def test_a_bare_idle_is_in_millivolts_and_a_unit_is_taken_at_its_word(text: str, volts: float) -> None:
    assert read_six(BEHIND_A_LAMP, {**TYPED, Field.IDLE: text}, METERS).idle == pytest.approx(volts)


def test_a_resistor_is_read_as_it_is_marked() -> None:
    assert read_six(BEHIND_A_LAMP, {**TYPED, Field.ACROSS: "0R47"}, METERS).across == 0.47


def test_every_field_that_cannot_be_read_is_named_at_once() -> None:
    found = faults({**TYPED, Field.MAINS: "", Field.RAIL: "44", Field.CHANNELS: "3", Field.IDLE: "x"})
    assert list(found) == ["mains", "rail", "channels", "idle"]
    assert (found["mains"], found["channels"]) == ("is missing", "is 3")
    assert faults({**TYPED, Field.RAIL: "+/-"}) == {"rail": "is missing"}


def test_what_can_be_read_but_not_be_is_told_under_its_field() -> None:
    assert faults({**TYPED, Field.MAINS: "2300", Field.LAMP: "5000"}) == {
        "mains": "is 2300 V",
        "lamp_watts": "is 5000 W",
    }


def test_without_a_meter_nothing_is_made() -> None:
    with pytest.raises(BadInput, match="eyes alone cut nothing"):
        read_six(BEHIND_A_LAMP, TYPED, ())


def test_a_board_on_a_supply_asks_for_neither_mains_nor_lamp() -> None:
    assert Field.MAINS not in BOARD.fields
    assert Field.LAMP not in BOARD.fields
    six = read_six(BOARD, {**TYPED, Field.MAINS: "?", Field.LAMP: "?"}, METERS)
    assert (six.rail, six.lamp_watts) == (44.0, 0.0)


def test_a_single_rail_unit_has_no_minus_rail() -> None:
    assert "minus rail" in faults(TYPED, kind=5)["rail"]
    assert not read_six(SINGLE, {**TYPED, Field.RAIL: "+35"}, METERS).paired


def test_a_kind_is_taken_by_its_number() -> None:
    assert kind_of("3").template is Template.BOARD
    assert kind_of("7").template is Template.ADJUST
    for text in ("0", "12", "", "x"):
        with pytest.raises(BadInput, match="2 variable transformer behind a lamp"):
            kind_of(text)
