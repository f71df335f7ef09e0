"""What each reservoir still holds after off, in words: how it stands the recorder says, and never safe. No Qt."""

from dataclasses import dataclass

from benchlog.domain.discharge import HOLDS, LOOK_BACK, MEASURE, SEEN_LOW, UNDER, time_to
from benchlog.domain.discharge import Charge as Stands
from benchlog.domain.plan_trace import TracePlan
from benchlog.domain.reading import Outcome
from benchlog.window import words
from benchlog.window.foretold import falling
from benchlog.window.run_view import NOT_KNOWN, Live, Phase, RunView

NEVER_TRUST = f"Never trust the screen alone: {MEASURE} before you touch."
KEEP_OUT = "Keep hands out. The reservoirs are still charged."
NOBODY_KNOWS = "Keep hands out. Nobody knows what the reservoirs still hold."
UNTIL_MEASURED = "Keep hands out until you have measured across each capacitor's own terminals."
_SHORT = "measure at its own terminals"


@dataclass(frozen=True, slots=True)
class Charge:
    """A reservoir: its volts as shown, its share of what it had, what to say of it, and whether that is old news."""

    name: str
    shown: str
    share: float
    words: str
    stale: bool
    charged: bool
    low: bool = False
    """Whether it was seen to decay: never a promise."""


def charges_of(view: RunView, now: float) -> tuple[Charge, ...]:
    """What each reservoir that a trace shows still holds."""
    found = []
    for trace in view.plan.trace if view.plan is not None else ():
        live = view.live.get(trace.name)
        if trace.role in HOLDS and live is not None and live.heard:
            found.append(_charge(view, trace, live, now))
    return tuple(found)


def still_charged(charges: tuple[Charge, ...]) -> bool:
    """Whether a reservoir holds more than next to nothing, or nobody knows."""
    return any(charge.stale or charge.charged for charge in charges)


def keep_out(charges: tuple[Charge, ...]) -> str:
    """What to say of hands: that a reservoir is still charged only where it is."""
    if any(charge.charged for charge in charges):
        return KEEP_OUT
    return NOBODY_KNOWS if still_charged(charges) else UNTIL_MEASURED


def _charge(view: RunView, trace: TracePlan, live: Live, now: float) -> Charge:
    doubt = view.doubt_in(trace.name, trace.job)
    unknown = doubt.startswith(NOT_KNOWN)
    stale = live.stale(now) or live.value is None or live.outcome != Outcome.OK or unknown
    value = abs(live.value or 0.0)
    low = False
    if doubt and (unknown or not live.stale(now)):
        said = f"{words.NO_NUMBER.get(doubt, doubt)}; {_SHORT}"
    elif stale:
        said = f"no news for {live.age(now):.0f} s; {_SHORT}"
    else:
        said, low = _stands(view, live, value, now)
    shown = trace.shown(live.value) if live.value is not None and not unknown else "- -"
    share = 0.0 if unknown else min(1.0, value / _full(view, trace.name))
    return Charge(trace.name, shown, share, said, stale, charged=value >= UNDER, low=low)


def _stands(view: RunView, live: Live, value: float, now: float) -> tuple[str, bool]:
    """How a reservoir of so many volts stands, and whether it was seen low."""
    stands, said = view.discharge.get(live.name, ("", ""))
    if view.phase is Phase.CLOSED:
        # Nobody judges its readings any more.
        if value >= UNDER:
            return "still charged", False
        seen = stands in SEEN_LOW
        return f"{'was seen to decay' if seen else 'not seen to decay'}; {_SHORT}", seen
    changing = view.off_at is None and time_to(UNDER, _last(view, live.name)) is not None
    if value >= UNDER and (stands == Stands.FALLING or changing):
        foretold = view.foretold.get(live.name)
        foretold = None if foretold is None or foretold.stale(now) else foretold
        return ", ".join(filter(None, ("falling", falling(foretold, live.t)))), False
    if stands in SEEN_LOW:
        return said, value < UNDER
    if said and stands != Stands.FALLING:
        # Where to measure stands below, for all of them.
        said = said.removesuffix(f": {MEASURE}")
        if stands == Stands.NOT_PROVEN and value >= UNDER:
            # That it fell is not proven; what stands there is seen.
            return f"still charged; {said.removeprefix('not proven, ')}", False
        return said, False
    return ("still charged" if value >= UNDER else f"not proven; {_SHORT}"), False


def _last(view: RunView, name: str) -> list[tuple[float, float]]:
    """What it has read in the last seconds."""
    rows = view.falls.get(name)
    return [row for row in rows if rows[-1][0] - row[0] <= LOOK_BACK] if rows else []


def _full(view: RunView, name: str) -> float:
    """What the bar of a reservoir is full at: the highest limit its trace has, else 50 V."""
    limits = (
        [limit.value for limit in view.plan.limit if limit.trace == name and limit.value] if view.plan else []
    )
    return max(limits, default=50.0)
