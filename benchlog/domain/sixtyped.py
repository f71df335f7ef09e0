"""The six numbers as they are typed, field by field, and what a plan can be made for, by its number."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.plan_templates import Template
from benchlog.domain.quantity import quantity
from benchlog.domain.sixnumbers import MeterAtHand, SixNumbers, read_rail
from benchlog.errors import BadInput, Fault

_PLAIN = re.compile(r"\s*\d*[.,]?\d+\s*|\s*\d+[.,]\s*")
_MILLI = 1e-3


class Field(StrEnum):
    """One field, in the order they are asked for."""

    MAINS = "mains"
    RAIL = "rail"
    CHANNELS = "channels"
    IDLE = "idle"
    ACROSS = "across"
    LAMP = "lamp_watts"


_UNIT = {
    Field.MAINS: "V",
    Field.RAIL: "V",
    Field.CHANNELS: "",
    Field.IDLE: "V",
    Field.ACROSS: "ohm",
    Field.LAMP: "",
}
_SUCH_AS = {
    Field.MAINS: "230",
    Field.RAIL: "+/-44, or +35 for a single one",
    Field.CHANNELS: "1 or 2",
    Field.IDLE: "16.5 for 16.5 mV",
    Field.ACROSS: "0.33",
    Field.LAMP: "100, or 0 for none",
}
_OFF_THE_BOARD = {Field.MAINS: "230", Field.LAMP: "0"}
"""What stands for the fields that a board on a supply has no use for."""
_NOT_ASKED = {**_OFF_THE_BOARD, Field.CHANNELS: "1", Field.IDLE: "10", Field.ACROSS: "1"}
"""What stands for every field that a kind does not ask for; nothing of its plan goes by it."""


_FEW: Mapping[Template, tuple[Field, ...]] = {
    Template.DISCHARGE: (Field.RAIL,),
    Template.REFORM: (Field.RAIL, Field.ACROSS),
}
"""The kinds that ask for little."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What a plan is made for, as it is offered; on a `single` rail there is no minus rail."""

    template: Template
    name: str
    about: str
    single: bool = False

    @property
    def fields(self) -> tuple[Field, ...]:
        """What it asks for: a board on a supply has neither mains nor lamp, what comes after a power-up no lamp."""
        if self.template is Template.BOARD:
            return tuple(field for field in Field if field not in _OFF_THE_BOARD)
        if self.template in _FEW:
            return _FEW[self.template]
        if self.template in (Template.ADJUST, Template.WARM_UP, Template.SOAK):
            return tuple(field for field in Field if field is not Field.LAMP)
        return tuple(Field)


KINDS = (
    Kind(
        Template.LAMP_LADDER,
        "Lamp ladder",
        "one lamp after the other, the largest last, then none",
    ),
    Kind(
        Template.VARIABLE_TRANSFORMER,
        "Variable transformer behind a lamp",
        "from a tenth of the mains upwards",
    ),
    Kind(Template.BOARD, "Dual supply on a board", "the program sets the supply, which limits the current"),
    Kind(
        Template.SAFETY_RESISTORS,
        "Safety resistors in the rails",
        "the drop across each says what the unit draws",
    ),
    Kind(
        Template.VARIABLE_TRANSFORMER,
        "Single-rail unit",
        "an output capacitor, no minus rail; variable transformer behind a lamp",
        single=True,
    ),
    Kind(Template.QUICK, "Quick run", "switch on, watch three things"),
    Kind(Template.ADJUST, "Adjust", "offset, idle cold and warm, offset again; no lamp"),
    Kind(Template.WARM_UP, "Warm-up", "an hour at full mains, cold to hot; no lamp"),
    Kind(Template.SOAK, "Soak", "eight hours at full mains, attended or not; no lamp"),
    Kind(Template.DISCHARGE, "Discharge", "unplugged: every reservoir followed until it is seen low"),
    Kind(
        Template.REFORM,
        "Reform a capacitor",
        "its rated volts as the rail, through the resistor of the field across",
    ),
)
"""What a plan can be made for; each is taken by its number, from 1."""


def kind_of(number: str) -> Kind:
    """The kind of that number; BadInput says which there are."""
    if number.isdecimal() and 1 <= int(number) <= len(KINDS):
        return KINDS[int(number) - 1]
    known = ", ".join(f"{at} {kind.name.lower()}" for at, kind in enumerate(KINDS, start=1))
    raise BadInput("kind of plan", f'there is no "{number}"', f"there are {known}")


def read_six(kind: Kind, texts: Mapping[Field, str], meters: Sequence[MeterAtHand]) -> SixNumbers:
    """What the fields of a kind come to; BadInput names each field that cannot be read, in their order."""
    faults: list[Fault] = []
    values: dict[Field, float] = {}
    paired = True
    for field in Field:
        text = texts.get(field, "") if field in kind.fields else _NOT_ASKED[field]
        try:
            if not any(char.isdecimal() for char in text):
                raise BadInput(field, "is missing" if not text.strip("+-/± ") else f'"{text}" is no number')
            if field is Field.RAIL:
                values[field], paired = read_rail(text)
            else:
                values[field] = _number(field, text)
        except BadInput as error:
            faults.append(Fault(field, error.problem, f"write {_SUCH_AS[field]}"))
    if kind.single and paired and Field.RAIL in values:
        faults.append(Fault(Field.RAIL, "has a minus rail, which a single-rail unit has not", "write +35"))
    if not faults:
        six = SixNumbers(
            mains=values[Field.MAINS],
            rail=values[Field.RAIL],
            paired=paired,
            channels=round(values[Field.CHANNELS]),
            idle=values[Field.IDLE],
            across=values[Field.ACROSS],
            lamp_watts=values[Field.LAMP],
            meters=tuple(meters),
        )
        faults.extend(six.faults())
    if faults:
        raise BadInput.of(faults)
    return six


def _number(field: Field, text: str) -> float:
    """One field; a bare idle is in millivolts, as sheets write it."""
    value = quantity(text, _UNIT[field]).value
    if field is Field.IDLE and _PLAIN.fullmatch(text):
        return value * _MILLI
    if field is Field.CHANNELS and value not in (1.0, 2.0):
        raise BadInput(field, f"is {value:g}")
    return value
