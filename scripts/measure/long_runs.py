"""Long runs: the first picture of one, and looking around in it, at every length and rate; a week's soak."""

import json
import subprocess
from collections.abc import Iterator

from measure import kept_run
from measure.processes import command, environment
from measure.table import Line, at_most, median, percentile, told
from measure.terms import Terms

FIRST, FRAME, COMPLETE = 200.0, 16.0, 40.0
WEEK, SLOW = 7 * 24 * 3600, 2.0
"""Seconds of a soak, and readings a second of each of its traces."""


def opened(terms: Terms) -> Iterator[Line]:
    """Ten million readings at 10 and at 1,000 a second, and the same with fewer; with `--quick` a tenth."""
    most = terms.many(10_000_000, 1_000_000)
    for rate in (10.0, 1_000.0):
        for count in (most, most // 10, most // 100):
            yield from _looked_at(terms, f"{count:,} readings at {rate:,.0f}/s", count, rate)


def soaked(terms: Terms) -> Iterator[Line]:
    """A simulated week of six traces, twice a second each."""
    count = round(terms.many(WEEK, WEEK // 10) * SLOW) * kept_run.TRACES
    yield from _looked_at(terms, f"a soak of {count:,} readings", count, SLOW)


def _looked_at(terms: Terms, what: str, count: int, rate: float) -> Iterator[Line]:
    file = kept_run.make(terms.folder / f"{count} at {rate:g}", count, rate)
    argv = command("measure.looking", file, terms.many(60, 20))
    ran = subprocess.run(argv, stdout=subprocess.PIPE, check=True, env=environment(terms.folder))
    said = json.loads(ran.stdout)
    yield at_most(f"{what}: first picture", "p50", median(said["first"]), "ms", FIRST)
    yield at_most(f"{what}: zoom or pull, GUI", "p50", median(said["frame"]), "ms", FRAME)
    yield told(f"{what}: zoom or pull, GUI", "p99", percentile(said["frame"], 0.99), "ms")
    yield at_most(f"{what}: complete", "p50", median(said["complete"]), "ms", COMPLETE)
    yield told(f"{what}: complete", "p99", percentile(said["complete"], 0.99), "ms")
    yield told(f"{what}: memory over start", "most", said["memory"], "MB")
    file.unlink()
