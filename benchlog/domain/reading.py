"""What a meter said: a reading, its function, and how the exchange ended.

A reading is kept as the wire gave it. An overload is data and never a number; a reply that
never came, came late or cannot be read is a reading too, with its outcome and no value.
"""

from enum import StrEnum
from typing import NamedTuple


class Function(StrEnum):
    """What a meter measures; the code word stands in profiles, benches, plans and stores."""

    VOLTS_DC = "volts_dc"
    VOLTS_AC = "volts_ac"
    AMPS_DC = "amps_dc"
    AMPS_AC = "amps_ac"
    OHMS = "ohms"
    OHMS_4W = "ohms_4w"
    DIODE = "diode"
    CAPACITANCE = "capacitance"
    INDUCTANCE = "inductance"
    ESR = "esr"
    """The resistance in series with a capacitor, at the frequency of the meter."""
    DISSIPATION = "dissipation"
    """D, tan delta: that resistance over the reactance, at the same frequency."""
    FREQUENCY = "frequency"
    TEMPERATURE = "temperature"
    STATE = "state"
    """A supply output's state as a number: see `SupplyState`."""

    @property
    def unit(self) -> str:
        """The SI unit its values are kept in; empty for D and for a state."""
        return _UNITS[self]


_UNITS = {
    Function.VOLTS_DC: "V",
    Function.VOLTS_AC: "V",
    Function.AMPS_DC: "A",
    Function.AMPS_AC: "A",
    Function.OHMS: "ohm",
    Function.OHMS_4W: "ohm",
    Function.DIODE: "V",
    Function.CAPACITANCE: "F",
    Function.INDUCTANCE: "H",
    Function.ESR: "ohm",
    Function.DISSIPATION: "",
    Function.FREQUENCY: "Hz",
    Function.TEMPERATURE: "degC",
    Function.STATE: "",
}


BESIDE = ("dissipation", "series_resistance", "quality", "phase", "frequency")
"""What may come with a value: D, ESR in ohms, Q, degrees, and the Hz of the test signal."""

HEADING = "heading"
"""The word beside a value that still moved when it was taken: where it was heading, in its unit."""


class SupplyState(StrEnum):
    """What a supply's output is doing; `STATES.index` of it is the value of a state reading."""

    OFF = "off"
    REGULATING = "regulating"
    LIMITING = "limiting"
    PROTECTED = "protected"


STATES = tuple(SupplyState)


class Outcome(StrEnum):
    """How one exchange with an instrument ended."""

    OK = "ok"
    OVERLOAD = "overload"
    NOT_A_NUMBER = "not a number"
    MALFORMED = "malformed"
    LATE = "late"
    MISSING = "missing"
    NOT_LIVE = "not live"
    """The meter holds, or shows something relative: not what is at its leads now."""
    WRONG_FUNCTION = "wrong function"
    """A meter left on ohms, on a job in volts."""
    SLIPPED = "factor of 1000"
    STUCK = "did not follow"
    """The source moved and this did not: its meter stands still, or its clip is off."""
    FELL = "clip off?"
    """It fell to nothing from one reading to the next, and nothing else moved."""
    FLASH = "changing range"
    """One reading in another decade, as a meter gives it that is changing its range."""
    REPEATED = "same reply"
    """The very same reply again and again, from a meter whose replies differ."""
    CLIP = "clip being moved"
    """Somebody has the clip in hand: what the meter reads is of nothing in particular."""


class Reading(NamedTuple):
    """One exchange with a meter: a tuple, which is made four times as fast as any other frozen record.

    Attributes:
        outcome: how it ended; `value` is a number only where it is OK.
        value: in the SI unit of `function`, degC for temperature.
        function: what was measured.
        at: monotonic nanoseconds of wire time at which its last byte arrived.
        raw: the reply as it came, decoded as ASCII with escapes; empty where none came.
        channel: the output of a supply or the channel of a scanner; empty for one-channel meters.
        resolution: the least digit of the range in use, in the unit of the value, where known.
        negative: the sign of an overload.
        flags: the meter's annunciators (HOLD, REL, LOW BATTERY), as code words.
        error: how far the meter can be off, either way, in the unit of the value; None where nobody has said.
        nulled: ohms of the leads that were taken off the value; None where none were.
        beside: what came with the value, such as D and the Hz it was measured at, by words of `BESIDE`.
    """

    outcome: Outcome
    value: float | None
    function: Function
    at: int
    raw: str
    channel: str = ""
    resolution: float | None = None
    negative: bool = False
    flags: tuple[str, ...] = ()
    error: float | None = None
    nulled: float | None = None
    beside: tuple[tuple[str, float], ...] = ()

    @property
    def good(self) -> bool:
        """Whether it carries a number."""
        return self.outcome is Outcome.OK
