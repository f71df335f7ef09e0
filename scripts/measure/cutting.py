"""From a violating reply on a meter's wire to the cut on the far end's wire, as the far end saw both.

The reply that decides is the second one in a row for us, since no limit trips on one reading alone,
and the first one for the bare loop: one thread, a meter's socket and the supply's. Beside it the other
meters are read by bare loops in a process of their own, so that the far end has as much to do.
"""

import random
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from measure.far_end import Cut, FarEnd
from measure.live import Live, bench_text, plan_text
from measure.processes import Running, command
from measure.table import Line, at_most, spread, times_at_most, told
from measure.terms import Terms
from measure.turns import in_turns

METERS = 6
DELAY = 0.002
BLOCKS = 20
GOALS = (2.0, 3.0, 10.0)
LONGEST = 3600
"""Seconds after which the loops beside the rival would end by themselves."""


def by_supply(terms: Terms) -> Iterator[Line]:
    """Violations re-armed without proof or tail, in blocks between those of the bare loops."""
    violations = terms.many(10_000, 1000)
    blocks = terms.many(BLOCKS, 4)
    dice = random.Random(1)
    with FarEnd(METERS, DELAY) as far:
        ours, bare = in_turns(
            blocks,
            lambda n: _ours(far, terms.folder / f"block {n}", dice, violations // blocks),
            lambda _: _bare(far, violations // blocks),
        )
    what = f"violation to cut, supply, {METERS} meters, {violations:,} x"
    mine, loop = spread(list(chain(*ours))), spread(list(chain(*bare)))
    yield times_at_most(what, "p50", mine.p50, "ms", loop.p50, GOALS[0])
    yield times_at_most(what, "p99", mine.p99, "ms", loop.p99, GOALS[1])
    note = f"rival: a bare two-socket loop, its max {loop.highest:.2f} ms"
    yield at_most(what, "max", mine.highest, "ms", GOALS[2], note)


def in_sessions(terms: Terms) -> Iterator[Line]:
    """Whole sessions, alarm and all: armed, on, violated once, cut, closed."""
    dice = random.Random(2)
    latencies = []
    with FarEnd(METERS, DELAY) as far:
        for n in range(terms.many(50, 10)):
            with _live(far, "supply", terms.folder / f"session {n}", alarm=True) as live:
                latencies.append(_violation(far, dice.randrange(METERS)).decided_ms)
                live.wait_cut()
    found = spread(latencies)
    what = f"the same, {found.count} whole sessions"
    yield told(what, "p50", found.p50, "ms")
    yield at_most(what, "max", found.highest, "ms", GOALS[2])


def by_relay(terms: Terms) -> Iterator[Line]:
    """Whole sessions on a pumped relay: when its line fell silent, and when its contact opened."""
    dice = random.Random(3)
    silent, opened = [], []
    with FarEnd(METERS, DELAY) as far:
        for n in range(terms.many(20, 4)):
            with _live(far, "relay", terms.folder / f"relay {n}") as live:
                cut = _violation(far, dice.randrange(METERS))
                silent.append((cut.silent_since - cut.second) / 1e6)
                opened.append((cut.t - cut.second) / 1e6)
                live.wait_cut()
    what = f"violation to cut, pumped relay, {len(silent)} sessions"
    note = "below 0: the last byte had left before the violating reply did"
    yield at_most(what, "last byte max", max(silent), "ms", GOALS[2], note)
    note = "its drop-out of 500 ms is the relay's own; it counts from the last byte"
    yield told(what, "open p50", spread(opened).p50, "ms", note)
    yield told(what, "open max", max(opened), "ms")


def _ours(far: FarEnd, folder: Path, dice: random.Random, count: int) -> list[float]:
    """One block of violations through a recorder that arms itself again; ms each."""
    latencies = []
    argv = command("measure.guarded")
    with _live(far, "supply", folder, argv=argv, tail=600.0) as live:
        for _ in range(count):
            latencies.append(_violation(far, dice.randrange(METERS)).decided_ms)
            live.wait_armed_again()
    return latencies


def _bare(far: FarEnd, count: int) -> list[float]:
    """One block of violations of the first meter, through a bare loop on it and the supply; ms each."""
    others = command("measure.rivals", "raw", "--seconds", LONGEST, *far.meters[1:])
    with (
        Running(command("measure.rivals", "cut", far.supply, far.meters[0])) as rival,
        Running(others) as beside,
    ):
        rival.hear()
        cuts = [_violation(far, 0) for _ in range(count)]
        beside.kill()
    return [(cut.t - cut.first) / 1e6 for cut in cuts]


def _live(
    far: FarEnd,
    switch: str,
    folder: Path,
    *,
    alarm: bool = False,
    argv: list[str] | None = None,
    tail: float = 0.0,
) -> Live:
    bench = bench_text(far.meters, switch, supply=far.supply, relay=far.relay)
    return Live(switch, bench, plan_text(METERS, switch, tail), folder, alarm=alarm, argv=argv)


def _violation(far: FarEnd, meter: int) -> Cut:
    far.violate(meter)
    return far.cut(meter)
