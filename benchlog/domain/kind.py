"""What kind of part stands at a designator: it decides how a marking is read and what a reading proves."""

from enum import StrEnum


class Kind(StrEnum):
    """A kind of part; the code word stands in unit files and stores.

    `CAPACITOR` is one that is neither electrolytic nor film, or of which no more is known. `TRANSISTOR_JUNCTION`
    is one junction that is listed as a part of its own; a `TRANSISTOR` has all of its own.
    """

    RESISTOR = "resistor"
    EMITTER_RESISTOR = "emitter_resistor"
    ELECTROLYTIC = "electrolytic"
    FILM = "film"
    CAPACITOR = "capacitor"
    INDUCTOR = "inductor"
    DIODE = "diode"
    TRANSISTOR_JUNCTION = "transistor_junction"
    ZENER = "zener"
    BRIDGE = "bridge"
    BIAS_PACKAGE = "bias_package"
    """Several junctions in one package, in a row: what sets the idle current of an output stage."""
    TRANSISTOR = "transistor"
    POTENTIOMETER = "potentiometer"
    INSULATION = "insulation"
    """What must not conduct: an insulator under a collector, a winding beside the chassis."""
    SWITCH = "switch"
    FUSE = "fuse"
    WINDING = "winding"
    CONTACT = "contact"

    @property
    def unit(self) -> str:
        """The unit of a bare number that stands for such a part; empty where it could be several."""
        return _UNITS[self]


_UNITS = {
    Kind.RESISTOR: "ohm",
    Kind.EMITTER_RESISTOR: "ohm",
    Kind.ELECTROLYTIC: "F",
    Kind.FILM: "F",
    Kind.CAPACITOR: "F",
    Kind.INDUCTOR: "H",
    Kind.DIODE: "V",
    Kind.TRANSISTOR_JUNCTION: "V",
    Kind.ZENER: "V",
    Kind.BRIDGE: "V",
    Kind.BIAS_PACKAGE: "V",
    Kind.TRANSISTOR: "V",
    Kind.POTENTIOMETER: "ohm",
    Kind.INSULATION: "ohm",
    Kind.SWITCH: "ohm",
    Kind.FUSE: "",
    Kind.WINDING: "ohm",
    Kind.CONTACT: "ohm",
}

RESISTORS = frozenset({Kind.RESISTOR, Kind.EMITTER_RESISTOR})
"""Kinds whose marking is a resistance with a tolerance."""

CAPACITORS = frozenset({Kind.ELECTROLYTIC, Kind.FILM, Kind.CAPACITOR})
"""Kinds whose marking is a capacitance."""

JUNCTIONS = frozenset(
    {Kind.DIODE, Kind.TRANSISTOR_JUNCTION, Kind.ZENER, Kind.BRIDGE, Kind.BIAS_PACKAGE, Kind.TRANSISTOR}
)
"""Kinds that conduct one way."""

USUAL_TOLERANCE = {Kind.POTENTIOMETER: (-0.20, 0.20)}
"""What holds where nothing is marked (common practice, no source): controls are made to 20 %."""
