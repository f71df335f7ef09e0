"""The plan check: does this plan fit this bench, and what should be said before anything is live."""

import math
from collections.abc import Iterator, Sequence

from benchlog.domain.guarded import bound_in_words, unguarded
from benchlog.domain.plan import Mover, Plan
from benchlog.domain.plan_limit import BY_SOURCE, Action, Limit, LimitKind
from benchlog.domain.plan_trace import MAINS_SIDE, Role, TracePlan
from benchlog.domain.quantity import show
from benchlog.domain.rating import FOR_MAINS, fit_for_mains
from benchlog.domain.reference import Reference
from benchlog.domain.runaway import RISES, WINDOW
from benchlog.domain.trace import LOST, LOST_AT_MOST, LOST_INTERVALS, lost_after
from benchlog.domain.watch import after_steady
from benchlog.errors import BadInput, Fault
from benchlog.instruments.bench import Bench, MeterEntry

SLOW_METER = 0.4
"""Seconds between readings assumed where the bench does not say: a handheld meter's pace."""
HAND_SECONDS = 2.0
SUPPLY_SECONDS = 0.1


def check(
    plan: Plan,
    bench: Bench,
    place: str,
    unprotected: frozenset[str] = frozenset(),
    reference: Reference | None = None,
) -> list[str]:
    """Sentences, what nothing guards first; BadInput where the plan asks for what the bench does not have.

    `unprotected` are the jobs of supplies that have no over-voltage protection to set; `reference` is
    the good run of the unit that it is for.
    """
    faults = [*_misfits(plan, bench, place), *_unguarded(plan, bench, place, unprotected)]
    if faults:
        raise BadInput.of(faults)
    if not plan.run_kind.feeds:
        return ["Nothing is switched on: each reservoir is followed until it was seen to discharge."]
    return [*_warnings(plan, bench), *_delays(plan, bench), *_held_against(plan, reference)]


def _held_against(plan: Plan, reference: Reference | None) -> Iterator[str]:
    """Where rails, lamp and mains current are expected from, and where nothing tells what they should be."""
    follows = [
        limit.trace for limit in plan.limit if limit.kind in BY_SOURCE or limit.over_healthy is not None
    ]
    draws = [limit.trace for limit in plan.limit if limit.times_healthy is not None]
    behind = "the lamp's wattage" if plan.source.lamp_watts > 0.0 else "the source"
    if reference is None:
        if follows:
            until = "until a good run of this unit is kept"
            yield f"What {_listed(follows)} should read is from {behind}, with room, {until}."
        for name in dict.fromkeys(draws):
            yield f"{name} is not judged yet: what is healthy comes from a good run of this unit."
        return
    silent = {name: _silent_at(plan, reference, name) for name in follows + draws}
    told = [name for name, stages in silent.items() if len(stages) < len(plan.stage)]
    if told:
        yield f"What {_listed(told)} should read is from {reference.called}."
    if untold := [name for name in follows if name not in told]:
        yield f"What {_listed(untold)} should read is from {behind}, with room: {reference.called} does not tell."
    for name in dict.fromkeys(draws):
        if name not in told:
            yield f"{name} is not judged: {reference.called} does not tell what is healthy."
        elif silent[name]:
            where = f"stage {_listed(silent[name])}"
            yield f"{name} is not judged at {where}: {reference.called} does not tell what is healthy there."


def _silent_at(plan: Plan, reference: Reference, name: str) -> list[str]:
    """The stages of a plan at which a good run does not tell what that trace should read."""
    role = plan.find(name).role
    silent = []
    for index, stage in enumerate(plan.stage):
        applied = stage.volts or (stage.fraction or 0.0) * plan.source.mains
        watts = plan.fitted_at(index).lamp_watts
        if role is Role.MAINS_AMPS:
            told = reference.amps(applied, watts)
        elif role is Role.LAMP:
            told = reference.lamp_share(applied, watts)
        else:
            told = reference.rail(name, applied, None, watts)
        if told is None:
            silent.append(stage.name)
    return silent


def _delays(plan: Plan, bench: Bench) -> Iterator[str]:
    """The honest figure of each limit that trips, and of a meter that falls silent; the longest first.

    Limits that differ by nothing but their trace are one sentence.
    """
    off = off_seconds(bench)
    alike: dict[tuple[str, str], list[str]] = {}
    longest: dict[tuple[str, str], float] = {}
    for limit in plan.limit:
        if limit.action is Action.TRIP:
            said = (bound_in_words(limit, plan.find(limit.trace)), _arming(plan, limit))
            seconds = worst_delay(limit, _interval(plan, bench, limit), off)
            alike.setdefault(said, []).append(limit.trace)
            longest[said] = max(longest.get(said, 0.0), seconds)
    told = [
        (
            longest[said],
            f"{_listed(names)} {said[0]}: from fault to off at worst {longest[said]:.1f} s{said[1]}",
        )
        for said, names in alike.items()
    ]
    if pauses := [pause for _, pause in _critical(plan, bench)]:
        patience = plan.run_kind.patience
        silent = max(patience, *map(lost_after, pauses)) + off
        text = f"A critical meter that falls silent: off at worst {silent:.1f} s after its last reading"
        longest_of_all = LOST_AT_MOST + off
        if not all(pauses) and silent < longest_of_all:
            # Nobody has said how often it reads: a slow one is waited for as long as its habit asks.
            slow = f"{LOST / LOST_INTERVALS:g} s"
            text = f"{text}, up to {longest_of_all:.1f} s where it reads less often than every {slow}"
        told.append((silent, f"{text}."))
    for _, sentence in sorted(told, key=lambda one: -one[0]):
        yield sentence


def _listed(names: Sequence[str]) -> str:
    """`+B, -B and idle L`."""
    unique = list(dict.fromkeys(names))
    return " and ".join(filter(None, (", ".join(unique[:-1]), unique[-1])))


def _arming(plan: Plan, limit: Limit) -> str:
    """What comes on top while a limit does not look yet."""
    waits = []
    if limit.after_on > 0.0:
        waits.append(f"{limit.after_on:g} s after switching on")
    if limit.kind is LimitKind.RISE or limit.after_steady or limit.capacitance:
        since = "the supply is set" if limit.kind is LimitKind.SUPPLY else "the source is steady"
        waits.append(
            f"{after_steady(limit, plan, behind=plan.source.lamp_watts > 0.0) or 0.0:.3g} s after {since}"
        )
    if limit.gate is not None:
        level = show(limit.gate.above, plan.find(limit.gate.any_of[0]).measures.unit)
        gate = f"{' or '.join(limit.gate.any_of)} has stood above {level}"
        waits.append(f"when {gate} for {limit.gate.seconds:g} s")
    if limit.once_set:
        waits.append(f"when {limit.trace} was marked as set in this visit")
    lamp = "" if limit.lamp_watts is None else f", behind the {limit.lamp_watts:g} W lamp"
    return f"{lamp}; it looks only from {' and '.join(waits)}" if waits else lamp


def _warnings(plan: Plan, bench: Bench) -> Iterator[str]:
    if bare := unguarded(plan):
        yield f"Not guarded: {', '.join(bare)}."
    source = plan.source
    tripping = [limit for limit in plan.limit if limit.action is Action.TRIP]
    if not tripping and plan.trace:
        yield "No limit of this plan switches off: only a critical meter that falls silent does."
    ceilings = {limit.trace for limit in tripping if limit.kind is LimitKind.HIGH}
    for trace in plan.of_role(Role.RAIL):
        if trace.name not in ceilings:
            yield f"{trace.name} has no ceiling: give it a high limit at the rating of its capacitors."
    safety_resistor = any("resistor" in link.lower() for link in source.chain)
    if source.moved_by is Mover.HAND and plan.fitted_at(0).lamp_watts == 0.0 and not safety_resistor:
        yield "Nothing limits the current at the first stage: put a lamp in series."
    if not any(switch.kind != "hand" for switch in bench.off_switch):
        yield "Your hand is the only off-switch: stay at the bench, one hand on the switch."
    yield from _second_best(bench)
    yield from _few_meters(plan)
    yield from _slow_meters(plan, bench)
    yield from unknown_links(plan, bench)
    yield from _ratings(plan, bench)


def _second_best(bench: Bench) -> Iterator[str]:
    """What is said of a relay held in by a level, and of a pedal that is no off-switch where its wire is broken."""
    for switch in bench.off_switch:
        if switch.held_by_level:
            dead = ", and so does a program that died" if switch.level == "low" else ""
            yield (
                f"{switch.job} is held in by the level of {switch.line.upper()}, second best: a program that hangs, "
                f"a computer that sleeps or an adapter that inverts holds it in{dead}. Keep the hand switch in reach."
            )
    for pedal in bench.pedal:
        if pedal.does == "cut" and not pedal.fails_to_cut:
            yield f"{pedal.job} cuts while its wire is whole, and nothing but pressing it shows that."


def _few_meters(plan: Plan) -> Iterator[str]:
    """Where one meter is best put (rule 17)."""
    behind = plan.source.moved_by is Mover.HAND and plan.fitted_at(0).lamp_watts > 0.0
    lamp = any(trace.role is Role.LAMP for trace in plan.trace)
    if not plan.trace:
        yield "Eyes alone watch this run: nothing switches off by itself. Your hand is the guard."
    if behind and not lamp and len(plan.trace) <= 1:
        yield "Clip a meter across the lamp first: it shows a short before anything else does."
    roles = {trace.role for trace in plan.trace}
    for index, stage in enumerate(plan.stage):
        bare = plan.changes and plan.fitted_at(index).lamp_watts == 0.0
        if bare and roles <= {Role.LAMP, Role.MAINS}:
            yield f"At stage {stage.name} no limit watches the unit: clip a meter across an idle resistor there."


def _slow_meters(plan: Plan, bench: Bench) -> Iterator[str]:
    """Of a meter that misses a reading now and then a rail would be lost too often, or go unseen for too long."""
    for trace, pause in _critical(plan, bench):
        if trace.role is Role.RAIL and LOST_INTERVALS * pause > LOST_AT_MOST:
            slowest = LOST_AT_MOST / LOST_INTERVALS
            yield f"{trace.job} is asked every {pause:g} s, too slow to guard {trace.name}: ask it every {slowest:g} s."


def _critical(plan: Plan, bench: Bench) -> list[tuple[TracePlan, float]]:
    """The critical traces, and every how many seconds their meters are asked."""
    return [(trace, _pause(bench, trace)) for trace in plan.trace if trace.critical]


def _pause(bench: Bench, trace: TracePlan) -> float:
    """Every how many seconds a meter is asked; 0 where the bench does not say, or where it speaks unasked."""
    every = {entry.job: entry.interval or 0.0 for entry in bench.meter}
    return (every | {entry.job: entry.interval for entry in bench.supply}).get(trace.job, 0.0)


def _on_the_mains(plan: Plan, bench: Bench) -> list[MeterEntry]:
    """The meters that hang on the mains side."""
    jobs = {trace.job for trace in plan.trace if trace.role in MAINS_SIDE}
    return [entry for entry in bench.meter if entry.job in jobs]


def unknown_links(plan: Plan, bench: Bench) -> list[str]:
    """A sentence for each meter on the mains side of which nobody has said whether its link is isolated."""
    return [
        f"{entry.job} is on the mains side and nobody has said whether its link is isolated."
        for entry in _on_the_mains(plan, bench)
        if entry.link_isolated == "unknown"
    ]


def _ratings(plan: Plan, bench: Bench) -> Iterator[str]:
    """What is asked and said of inputs and leads on the mains side."""
    entries = _on_the_mains(plan, bench)
    for entry in entries:
        if fit_for_mains(entry.rating) is None:
            yield f"{entry.job} is on the mains side: is its input rated {FOR_MAINS}?"
    if entries:
        jobs = " and ".join(entry.job for entry in entries)
        yield f"The leads of {jobs} hang on the mains as well: {FOR_MAINS}."


def _unguarded(plan: Plan, bench: Bench, place: str, unprotected: frozenset[str]) -> Iterator[Fault]:
    """What the bench has, but not so that it can guard this plan."""
    source = plan.source
    if source.moved_by is Mover.PROGRAM and source.supply in {entry.job for entry in bench.supply}:
        if source.supply not in {switch.supply for switch in bench.off_switch if switch.kind == "supply"}:
            problem = f"{source.supply} is set by the program and is none of the off-switches"
            fix = 'add an [[off_switch]] of kind "supply" for it to the bench'
            yield Fault(f"{place}: source.supply", problem, fix)
        if source.protection > 0.0 and source.supply in unprotected:
            problem = f"{source.supply} has no over-voltage protection to set"
            yield Fault(
                f"{place}: source.protection", problem, "write protection = 0.0, or add it to its profile"
            )
    for i, trace in enumerate(plan.trace, start=1):
        pause = _pause(bench, trace)
        if trace.critical and pause >= LOST:
            problem = f"{trace.job} is asked every {pause:g} s: one reading that fails and it counts as lost"
            fix = "shorten its interval on the bench, or mark the trace critical = false"
            yield Fault(f"{place}: trace[{i}].meter", problem, fix)


def _misfits(plan: Plan, bench: Bench, place: str) -> list[Fault]:
    """What the plan asks for and the bench does not have."""
    faults = []
    meters = {entry.job: entry for entry in bench.meter}
    supplies = {entry.job for entry in bench.supply}
    known = ", ".join(sorted({*meters, *supplies})) or "none"
    for i, trace in enumerate(plan.trace, start=1):
        where = f"{place}: trace[{i}].meter"
        if trace.job not in meters and trace.job not in supplies:
            faults.append(Fault(where, f"no meter of the bench has the job {trace.job!r}", f"it has {known}"))
        elif trace.job in supplies and not trace.channel:
            faults.append(
                Fault(f"{place}: trace[{i}].channel", "is missing", "name the supply's output, such as 1")
            )
        elif trace.job in meters and meters[trace.job].function not in (None, trace.measures):
            has = meters[trace.job].function
            faults.append(
                Fault(where, f"{trace.job} measures {has}, not {trace.measures}", "change one of them")
            )
        entry = meters.get(trace.job)
        if trace.role in MAINS_SIDE and entry is not None and entry.link_isolated == "no":
            fix = "use a meter with an isolated link on the mains side"
            faults.append(Fault(where, f"the link of {trace.job} is not isolated from the mains", fix))
        if trace.role in MAINS_SIDE and entry is not None and fit_for_mains(entry.rating) is False:
            problem = f"the input of {trace.job} is rated {entry.rating}, too little for the mains"
            faults.append(Fault(where, problem, f"use a meter and leads of {FOR_MAINS}"))
    if plan.source.moved_by is Mover.PROGRAM and plan.source.supply not in supplies:
        faults.append(
            Fault(
                f"{place}: source.supply",
                f"the bench has no supply {plan.source.supply!r}",
                f"it has {known}",
            )
        )
    if not bench.off_switch:
        faults.append(
            Fault(f"{place}", "the bench has no off-switch", "add an [[off_switch]], even if it is your hand")
        )
    return faults


def off_seconds(bench: Bench) -> float:
    """The slowest off-switch's own time, s: a relay's drop-out, a supply's answer; a hand's where it is alone.

    Each relay and supply may feed a part of its own, so that all must have acted.
    """
    own = [
        switch.drop_out if switch.kind == "relay" else SUPPLY_SECONDS
        for switch in bench.off_switch
        if switch.kind != "hand"
    ]
    return max(own, default=HAND_SECONDS)


def worst_delay(limit: Limit, interval: float, off: float) -> float:
    """Seconds from fault to off at worst.

    One meter interval until a reading shows it, the persistence rounded up to the next reading (at least
    one more), and the off-switch's own time.
    """
    more = max(math.ceil(round(limit.seconds / interval, 6)), limit.readings - 1)
    # A runaway is one only after its windows, one of which has already begun when the rise does.
    windows = (RISES + 1) * WINDOW if limit.kind is LimitKind.RUNAWAY else 0.0
    if limit.kind is LimitKind.RISE:
        # The slowest rise that is one takes its whole window, and is seen a middle of three readings late.
        windows = limit.window + interval
    return windows + interval + more * interval + off


def _interval(plan: Plan, bench: Bench, limit: Limit) -> float:
    """Seconds between readings that this limit is judged by: two rails wait for the slower meter."""
    intervals = {entry.job: entry.interval for entry in bench.meter}
    intervals |= {entry.job: entry.interval for entry in bench.supply}
    traces = [plan.find(name) for name in (limit.trace, *limit.others)]
    return max(intervals.get(trace.job) or SLOW_METER for trace in traces)
