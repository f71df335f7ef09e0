"""The live series of a plan, as a person writes them: what each shows, of which meter, in which words."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.quantity import show
from benchlog.domain.reading import Function
from benchlog.textfile import key

FaultAt = tuple[str, str, str]
"""Key path, problem, fix."""


class Role(StrEnum):
    """What a trace shows; the guard's arming and the graphs go by it."""

    MAINS = "mains"
    LAMP = "lamp"
    RAIL = "rail"
    OFFSET = "offset"
    IDLE = "idle"
    REGULATED = "regulated"
    SINK = "sink"
    CAN = "can"
    MIDPOINT = "midpoint"
    DROP = "drop"
    MAINS_AMPS = "mains_amps"
    SUPPLY_VOLTS = "supply_volts"
    SUPPLY_AMPS = "supply_amps"
    SUPPLY_STATE = "supply_state"

    @property
    def digit(self) -> float:
        """The last digit worth showing, in the unit of such a trace; rails and mains go by 10 mV."""
        return _SHOWN.get(self, 0.01)


_SHOWN = {
    Role.OFFSET: 1e-5,
    Role.IDLE: 1e-5,
    Role.SINK: 0.1,
    Role.CAN: 0.1,
    Role.DROP: 1e-3,
    Role.MAINS_AMPS: 1e-3,
    Role.SUPPLY_AMPS: 1e-4,
}

MAINS_SIDE = (Role.MAINS, Role.LAMP, Role.MAINS_AMPS)
"""What hangs on the mains: its link must be isolated, its input and leads rated for it."""


@dataclass(frozen=True, slots=True)
class TracePlan:
    """A live series: which meter of the bench shows which point of the unit."""

    name: str = key("what is measured, as said aloud: +B, idle L")
    role: Role = key("what it shows")
    meter: str = key("job of the meter or supply on the bench; left out: the trace's own name", default="")
    channel: str = key("output of a supply", default="")
    function: Function | None = key("left out: by its role", default=None)
    side: str = key("left or right where the unit has two sides", default="", choices=("", "left", "right"))
    critical: bool = key("whether losing it counts as a broken limit", default=True)
    sign: int = key("expected sign of a rail: 1 or -1", default=1, low=-1, high=1)
    ohms: float = key(
        "for a drop: the resistor it is across, which makes a current of it", default=0.0, unit="ohm", low=0.0
    )

    @property
    def job(self) -> str:
        """The meter's job on the bench."""
        return self.meter or self.name

    @property
    def measures(self) -> Function:
        """The function its readings must carry; another one is never placed on this trace."""
        return self.function or _FUNCTION_OF[self.role]

    def shown(self, value: float) -> str:
        """A value of this trace for a person."""
        return shown(value, self.measures.unit, self.role.digit)

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        if self.sign == 0:
            yield "sign", "is 0", "write 1 or -1"
        if self.ohms and self.role is not Role.DROP:
            yield "ohms", f"is for a drop, which {self.name} is not", "leave it out"


def shown(value: float, unit: str, digit: float) -> str:
    """A value of a trace for a person: to the last digit worth showing, four digits at the most.

    Volts with a digit of some microvolts (offset, idle) are read in mV, as sheets write them, up to a volt.
    """
    if not math.isfinite(value):
        return show(value, unit)
    fourth = 10.0 ** (math.floor(math.log10(abs(value))) - 3) if value else 0.0
    digit = max(digit, fourth)
    if unit == "V" and digit < 1e-3 and abs(value) < 1.0:
        places = max(0, -round(math.log10(digit * 1e3)))
        return f"{round(value * 1e3, places) + 0.0:.{places}f} mV"
    return show(value, unit, resolution=digit)


_FUNCTION_OF = {
    Role.MAINS: Function.VOLTS_AC,
    Role.LAMP: Function.VOLTS_AC,
    Role.RAIL: Function.VOLTS_DC,
    Role.OFFSET: Function.VOLTS_DC,
    Role.IDLE: Function.VOLTS_DC,
    Role.REGULATED: Function.VOLTS_DC,
    Role.SINK: Function.TEMPERATURE,
    Role.CAN: Function.TEMPERATURE,
    Role.MIDPOINT: Function.VOLTS_DC,
    Role.DROP: Function.VOLTS_DC,
    Role.MAINS_AMPS: Function.AMPS_AC,
    Role.SUPPLY_VOLTS: Function.VOLTS_DC,
    Role.SUPPLY_AMPS: Function.AMPS_DC,
    Role.SUPPLY_STATE: Function.STATE,
}
