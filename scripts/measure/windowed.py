"""What a window does to the cut: beside its redrawing, while it is stopped, and when it is killed."""

import contextlib
import json
import os
import random
import signal
import time
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

from measure.far_end import DECIDING, FarEnd
from measure.processes import Running, command, end
from measure.table import Line, at_most, spread, times_at_most, told
from measure.terms import Terms
from measure.turns import in_turns

METERS = 6
DELAY = 0.002
GOALS = (2.0, 3.0, 10.0)
LONGEST = 3600
STOPPED = 2.0
"""Seconds of a stop: shorter than what makes the recorder take the window for dead."""
BETWEEN = 0.15
"""Seconds from a cut to the next violation; it arms itself again within milliseconds."""


def redrawing(terms: Terms) -> Iterator[Line]:
    """Violations beside a window that draws 25 pictures a second, between those of a bare loop beside the same."""
    violations, blocks = terms.many(10_000, 600), terms.many(20, 3)
    dice = random.Random(4)
    with FarEnd(METERS, DELAY) as far:
        ours, bare = in_turns(
            blocks,
            lambda n: _beside_ours(far, terms.folder / f"block {n}", dice, violations // blocks),
            lambda _: _beside_bare(far, violations // blocks),
        )
    mine, loop = spread(list(chain(*ours))), spread(list(chain(*bare)))
    what = f"violation to cut, window redrawing, {violations:,} x"
    yield times_at_most(what, "p50", mine.p50, "ms", loop.p50, GOALS[0])
    yield times_at_most(what, "p99", mine.p99, "ms", loop.p99, GOALS[1])
    note = f"rival: a bare two-socket loop beside the same window, its max {loop.highest:.2f} ms"
    yield at_most(what, "max", mine.highest, "ms", GOALS[2], note)


def stopped(terms: Terms) -> Iterator[Line]:
    """The same while the window stands still, before it counts as dead."""
    if not hasattr(signal, "SIGSTOP"):
        yield told("violation to cut, window stopped", "", None, "", "this system has no such signal")
        return
    dice = random.Random(5)
    with FarEnd(METERS, DELAY) as far:
        still, drawing = in_turns(
            terms.many(25, 3),
            lambda n: _at_leisure(far, terms.folder / f"stop {n}", dice, stop=True),
            lambda n: _at_leisure(far, terms.folder / f"draw {n}", dice, stop=False),
        )
    found, beside = spread(list(chain(*still))), spread(list(chain(*drawing)))
    what = f"violation to cut, window stopped, {found.count} x"
    yield Line(what, "p50", found.p50, "ms", beside.p50)
    yield Line(what, "p99", found.p99, "ms", beside.p99)
    note = f"rival: the same at the same pace while it draws, its max {beside.highest:.2f} ms"
    yield at_most(what, "max", found.highest, "ms", GOALS[2], note)


def killed(terms: Terms) -> Iterator[Line]:
    """From the death of a window that draws to the cut."""
    latencies = []
    with FarEnd(METERS, DELAY) as far:
        for n in range(terms.many(50, 5)):
            with _drawing(far, terms.folder / f"kill {n}") as window:
                time.sleep(0.1)
                far.forget()
                died = time.monotonic_ns()
                window.kill()
                latencies.append((far.cut().t - died) / 1e6)
    found = spread(latencies)
    what = f"drawing window killed to cut, {found.count} x"
    yield told(what, "p50", found.p50, "ms")
    yield at_most(what, "max", found.highest, "ms", 50.0)


@contextlib.contextmanager
def _drawing(far: FarEnd, folder: Path, *more: str) -> Iterator[Running]:
    """A window that draws what its own recorder reads; neither is left beside what is measured next."""
    addresses = json.dumps({"meters": far.meters, "supply": far.supply, "relay": far.relay})
    folder.mkdir(parents=True, exist_ok=True)
    with Running(command("measure.redrawing", addresses, folder, *more)) as window:
        recorder = int(window.hear()["recorder"])
        try:
            yield window
        finally:
            window.kill()
            # Alone it would go on reading through a tail of minutes.
            end(recorder)


def _beside_ours(far: FarEnd, folder: Path, dice: random.Random, count: int) -> list[float]:
    latencies = []
    with _drawing(far, folder, "--again") as window:
        for _ in range(count):
            meter = dice.randrange(METERS)
            far.violate(meter)
            cut = far.cut(meter)
            latencies.append(cut.decided_ms)
            window.hear()
    return latencies


def _beside_bare(far: FarEnd, count: int) -> list[float]:
    others = command("measure.rivals", "raw", "--seconds", LONGEST, *far.meters[1:])
    with (
        Running(command("measure.redrawing", "--alone")) as window,
        Running(command("measure.rivals", "cut", far.supply, far.meters[0])) as rival,
        Running(others) as beside,
    ):
        window.hear()
        rival.hear()
        latencies = []
        for _ in range(count):
            far.violate(0)
            cut = far.cut(0)
            latencies.append((cut.t - cut.first) / 1e6)
        beside.kill()
        window.kill()
    return latencies


def _at_leisure(far: FarEnd, folder: Path, dice: random.Random, *, stop: bool) -> list[float]:
    """Violations so far apart that nobody need say when it is armed again, as a stopped window cannot."""
    latencies = []
    with _drawing(far, folder, "--again") as window:
        time.sleep(0.2)
        if stop:
            os.kill(window.pid, signal.SIGSTOP)
        begun = time.monotonic()
        while time.monotonic() - begun < STOPPED:
            meter = dice.randrange(METERS)
            far.violate(meter)
            cut = far.cut(meter)
            if cut.replies == DECIDING:
                latencies.append(cut.decided_ms)
            time.sleep(BETWEEN)
    return latencies
