"""What a recorder costs while it does its ordinary work: processor time and memory."""

import time
from collections.abc import Iterator
from pathlib import Path

from measure.far_end import FarEnd
from measure.live import Live, bench_text, plan_text
from measure.processes import HAS_PROC, core_seconds, resident
from measure.rates import stored
from measure.table import Line, at_most, told
from measure.terms import Terms

METERS = 6
INTERVAL = 0.1
"""Seconds of plan time between two readings of a meter: 60 readings a second in all."""
SPEED = 100.0
"""Plan seconds in a real one where hours are played; the guard's memory of each trace is full after ten."""
FULL = 20.0
FLAT = 3.0
"""Megabytes by which memory may wander after that: an allocator gives little back."""


def at_sixty(terms: Terms) -> Iterator[Line]:
    """A live run at 60 readings a second, then hours of it played fast."""
    what = f"recorder at {METERS / INTERVAL:.0f} readings/s"
    if not HAS_PROC:
        yield told(what, "of a core", None, "%", "not measured: this system has no /proc")
        return
    with FarEnd(METERS, 0.0) as far:
        with _live(far, terms.folder / "slow", 1.0) as live:
            time.sleep(3.0)
            seconds = terms.many(60, 10)
            before, begun = core_seconds(live.recorder.pid), time.monotonic()
            time.sleep(seconds)
            used, taken = core_seconds(live.recorder.pid) - before, time.monotonic() - begun
        yield at_most(what, "of a core", 100.0 * used / taken, "%", 3.0)
        hours = 24.0 if terms.long else terms.many(2, 1)
        yield from _memory(far, terms.folder / "fast", hours)


def _memory(far: FarEnd, folder: Path, hours: float) -> Iterator[Line]:
    """Megabytes a recorder grows by over hours of plan time, once its traces remember all they ever will."""
    what = f"memory over {hours:g} h at 60 readings/s"
    with _live(far, folder, SPEED) as live:
        time.sleep(FULL)
        before = resident(live.recorder.pid)
        time.sleep(hours * 3600.0 / SPEED)
        after = resident(live.recorder.pid)
    rate = stored(live.session, FULL * SPEED, hours * 1800.0)
    note = f"from {before:.1f} MB; played {SPEED:g} times as fast, {rate:.0f} readings a plan second kept"
    yield at_most(what, "growth", after - before, "MB", FLAT, note)


def _live(far: FarEnd, folder: Path, rate: float) -> Live:
    bench = bench_text(far.meters, "supply", supply=far.supply, relay=far.relay, interval=INTERVAL)
    return Live("supply", bench, plan_text(METERS, "supply"), folder, rate=rate)
