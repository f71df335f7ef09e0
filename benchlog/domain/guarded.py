"""What a plan guards and what it does not, in the words of somebody who reads it before anything is live."""

from collections.abc import Iterable, Sequence

from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_limit import Action, Limit, LimitKind
from benchlog.domain.plan_trace import Role, TracePlan

_SIDES = {"left": "L", "right": "R"}
_BY_KIND = {
    LimitKind.RAIL_LOW: "lower than the source should give",
    LimitKind.RAIL_HIGH: "higher than the source should give",
    LimitKind.POLARITY: "of the wrong sign",
    LimitKind.SUPPLY: "limiting, protecting or off by itself",
    LimitKind.RUNAWAY: "running away",
}
_APPLIED = "of the voltage applied"


def bound_in_words(limit: Limit, trace: TracePlan) -> str:
    """When a limit is broken, to be read behind its trace's name: `above 50.0 V`, `running away`."""
    said = _bound(limit, trace)
    if limit.lamp_watts is None:
        return said
    return f"{said} behind the {limit.lamp_watts:g} W lamp" if limit.lamp_watts else f"{said} without a lamp"


def _bound(limit: Limit, trace: TracePlan) -> str:
    if limit.kind is LimitKind.APART:
        return f"apart from {limit.partner}"
    if limit.kind in _BY_KIND:
        return _BY_KIND[limit.kind]
    if limit.kind is LimitKind.RISE:
        by = (
            f"{100 * limit.fraction:.0f} %" if limit.fraction is not None else trace.shown(limit.value or 0.0)
        )
        return f"up by {by} within {limit.window:.0f} s"
    way = "above" if limit.kind is LimitKind.HIGH else "below"
    if limit.of_source is not None:
        return f"{way} {100.0 * limit.of_source:.0f} % {_APPLIED}"
    if limit.of_trace is not None:
        return f"{way} {100.0 * limit.of_trace.share:.0f} % of {limit.of_trace.trace}"
    if limit.over_healthy is not None:
        return f"more than {100.0 * limit.over_healthy:.0f} % {_APPLIED} over its healthy figure"
    if limit.times_healthy is not None:
        return f"{way} {limit.times_healthy:g} times what a good run drew"
    return f"{way} {trace.shown(limit.value or 0.0)}"


def tripping(plan: Plan, name: str) -> tuple[Limit, ...]:
    """The limits that switch off for a trace; two rails that are compared are each guarded by it."""
    return tuple(
        limit for limit in plan.limit if limit.action is Action.TRIP and name in (limit.trace, limit.partner)
    )


def unguarded(plan: Plan) -> tuple[str, ...]:
    """What nothing switches off for, the gravest first: no meter is there, or no limit."""
    found: list[str] = []
    source = plan.source
    if not plan.run_kind.feeds:
        return ()
    lamps = (plan.fitted_at(index).lamp_watts for index in range(len(plan.stage)))
    if source.moved_by is Mover.HAND and any(lamps):
        found += _without(plan, Role.LAMP, "the lamp")
    if source.moved_by is Mover.PROGRAM:
        found += _without(plan, Role.SUPPLY_STATE, "what the supply says of itself")
    else:
        found += _rails(plan)
    # A board that is a regulator has an output in the place of idle current and offset.
    for role, name in (
        ((Role.REGULATED, "the regulated output"),)
        if plan.of_role(Role.REGULATED)
        else ((Role.IDLE, "idle current"), (Role.OFFSET, "offset"))
    ):
        found += _on_sides(plan, role, name)
    found += _without(plan, Role.SINK, "heat sinks")
    return tuple(found)


def _rails(plan: Plan) -> Iterable[str]:
    """A plan does not tell whether the unit has a minus rail that it leaves out."""
    for sign, name in ((1, "the + rail"), (-1, "a - rail if there is one")):
        yield from _unwatched([trace for trace in plan.of_role(Role.RAIL) if trace.sign == sign], plan, name)


def _on_sides(plan: Plan, role: Role, name: str) -> Iterable[str]:
    """What is lacking of a thing that each side has."""
    there = {trace.side for trace in plan.of_role(role)}
    if there & _SIDES.keys():
        for side in _SIDES.keys() - there:
            yield f"{name} {_SIDES[side]}"
    yield from _without(plan, role, name)


def _without(plan: Plan, role: Role, name: str) -> Iterable[str]:
    return _unwatched(plan.of_role(role), plan, name)


def _unwatched(known: Sequence[TracePlan], plan: Plan, name: str) -> Iterable[str]:
    """A thing that no meter watches, or each trace of it that nothing switches off for."""
    if not known:
        yield name
    for trace in known:
        if not tripping(plan, trace.name):
            yield f"{trace.name} (watched only)"
