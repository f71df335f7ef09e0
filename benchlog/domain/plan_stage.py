"""The stages of a plan, as a person writes them: where the source stands, for how long, and what must hold."""

from collections.abc import Iterable
from dataclasses import dataclass

from benchlog.domain.observed import Observation
from benchlog.domain.plan_trace import FaultAt, Role, TracePlan
from benchlog.domain.spot import Spot
from benchlog.domain.trim import Trim
from benchlog.textfile import key


@dataclass(frozen=True, slots=True)
class Wait:
    """What must hold before the next stage is offered."""

    trace: str = key("the trace it looks at; left out where a person's eyes tell", default="")
    observed: str = key(
        "what a person must have told at this stage, by its key", default="", choices=tuple(Observation)
    )
    low: float | None = key("at least this, in the trace's unit", default=None)
    high: float | None = key("at most this", default=None)
    steady: float | None = key("moved by less than this fraction over `seconds`", default=None, low=0.0)
    as_expected: bool = key("a raw rail inside its expected band", default=False)
    seconds: float = key("for how long", default=3.0, unit="s", low=0.0, high=600.0)

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        reads = self.low is not None or self.high is not None or self.steady is not None or self.as_expected
        if bool(self.trace) == bool(self.observed):
            yield "trace", "and observed are given together or left out together", "give one of them"
        if self.observed:
            if reads:
                yield "observed", "has no figure", "leave low, high, steady and as_expected out"
        elif self.low is None and self.high is None and self.steady is None and not self.as_expected:
            yield "trace", "has nothing to wait for", "give low, high, steady or as_expected"
        if self.low is not None and self.high is not None and self.low > self.high:
            yield "low", "is above high, so that nothing can lie between them", "exchange them"


@dataclass(frozen=True, slots=True)
class StagePlan:
    """One step of the power-up: a setting, a dwell, what must hold."""

    name: str = key("as said aloud: 40 %")
    dwell: float = key("how long the source rests here", unit="s", low=0.0)
    fraction: float | None = key(
        "variable transformer, as a fraction of full mains", default=None, low=0.0, high=1.2
    )
    volts: float | None = key("voltage of each supply output", default=None, unit="V", low=0.0)
    current_limit: float | None = key("current limit of each supply output", default=None, unit="A", low=0.0)
    lamp_watts: float | None = key(
        "the lamp in series from this stage on, fitted with the unit off; 0 for none; left out: as before",
        default=None,
        unit="W",
        low=0.0,
    )
    link: str = key(
        "what else is fitted from this stage on, with the unit off, such as 22 ohm safety resistors;"
        " left out: as before",
        default="",
    )
    spot: tuple[Spot, ...] = key("readings taken once at this stage, typed or by a walking meter", default=())
    wait: tuple[Wait, ...] = key("what must hold before the next stage is offered", default=())
    trim: tuple[Trim, ...] = key("what is set by trimmers at this stage, each to its band", default=())

    @property
    def awaits(self) -> tuple[Wait, ...]:
        """What must hold: the waits, and that each figure which is set stays in its band."""
        bands = [Wait(trace=one.trace, low=one.low, high=one.high, seconds=one.hold) for one in self.trim]
        return (*self.wait, *bands)

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        set_ = [trim.trace for trim in self.trim]
        for i, name in enumerate(set_):
            if name in set_[:i]:
                yield f"trim[{i + 1}].trace", f"{name!r} stands twice", "give it one band a stage"
        names = [spot.name for spot in self.spot]
        for i, name in enumerate(names):
            if name in names[:i]:
                yield f"spot[{i + 1}].name", f"{name!r} stands twice", "give each spot a name of its own"


@dataclass(frozen=True, slots=True)
class Fitted:
    """What stands between source and unit at a stage: the lamp in series, W, and any other link by name."""

    lamp_watts: float
    link: str = ""

    @property
    def words(self) -> str:
        """What to do about it, unplugged."""
        lamp = (
            f"fit the {self.lamp_watts:g} W lamp"
            if self.lamp_watts
            else "take the lamp out and bridge its socket"
        )
        return f"{lamp}, fit {self.link}" if self.link else lamp


def unmeant(wait: Wait, trace: TracePlan) -> Iterable[FaultAt]:
    """What a wait says of that trace, but can hardly mean."""
    if wait.as_expected and trace.role is not Role.RAIL:
        yield "as_expected", f"is for raw rails, which {trace.name} is not", "use low and high"
    if trace.role is Role.OFFSET and wait.high is not None and wait.low is None:
        yield "high", "alone lets any negative offset pass", f"give low = {-abs(wait.high):g} as well"
