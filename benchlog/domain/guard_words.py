"""What is broken, in a sentence a colleague would say; made after the cut, never before it."""

from collections.abc import Callable

from benchlog.domain.plan_limit import OfTrace
from benchlog.domain.plan_trace import TracePlan
from benchlog.domain.reading import SupplyState

Words = Callable[[], str]
"""A sentence that is made when it is asked for, of what it held at the time."""


def against(plan: TracePlan, value: float, how: str, bound: float) -> str:
    """A trace against its bound: how it stands and the bound itself."""
    return f"{plan.name} {plan.shown(value)}, {how} {plan.shown(bound)}"


def against_other(plan: TracePlan, value: float, how: str, other: OfTrace, bound: float) -> str:
    """A trace against its share of another one."""
    share = f"{100 * other.share:.0f} % of {other.trace}, {plan.shown(bound)}"
    return f"{plan.name} {plan.shown(value)}, {how} {share}"


def rising(plan: TracePlan, value: float, gain: float, window: float) -> str:
    """A value that comes up while nobody turns anything."""
    return f"{plan.name} {plan.shown(value)} rises: up by {plan.shown(gain)} within {window:.0f} s"


def left_up(plan: TracePlan, value: float, setting: float) -> str:
    """A source that stands higher than it was told, seen as the unit comes on."""
    return f"{plan.name} {plan.shown(value)} where {plan.shown(setting)} was set: the dial was left up"


def with_reason(words: Words, why: str) -> str:
    """A sentence with what the limit protects."""
    return f"{words()}: {why}"


def silence(name: str, quiet: float) -> str:
    """A trace that says nothing."""
    return f"no reading from {name} for {quiet:.1f} s"


def clip_lost(name: str, seconds: float) -> str:
    """A clip that was moved and did not come back in its time."""
    return f"the clip of {name} was moved, and no good reading came back in {seconds:.0f} s"


def doubted(name: str, doubt: str, quiet: float) -> str:
    """A trace whose readings are not believed."""
    return f"no reading from {name} could be believed for {quiet:.1f} s: {doubt}"


def beyond_range(name: str) -> str:
    """A meter beyond its range."""
    return f"{name} is beyond the range of its meter"


def rails_apart(one: TracePlan, first: float, other: TracePlan, second: float, gap: float) -> str:
    """Two rails that should be alike."""
    rails = f"{one.name} {one.shown(first)} and {other.name} {other.shown(second)}"
    return f"{rails} are {one.shown(gap)} apart"


def wrong_sign(plan: TracePlan, value: float) -> str:
    """A rail with the wrong sign."""
    return f"{plan.name} reads {plan.shown(value)}, the wrong sign; or the leads are swapped"


def running_away(plan: TracePlan, value: float, gain: float) -> str:
    """A value that rises ever faster."""
    return f"{plan.name} {plan.shown(value)} runs away: up by {plan.shown(gain)} in the last minute"


def by_itself(name: str, state: SupplyState) -> str:
    """A supply that does something nobody asked it for."""
    said = {
        SupplyState.LIMITING: "is in current limit",
        SupplyState.PROTECTED: "has shut down by its own protection",
        SupplyState.OFF: "has gone off by itself",
    }
    return f"the supply {said[state]} ({name})"
