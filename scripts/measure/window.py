"""How soon the window can be used, beside a bare one, and what a picture of a live graph costs."""

import json
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

from measure.processes import command
from measure.table import Line, at_most, median, percentile, times_at_most, told
from measure.terms import Terms
from measure.turns import in_turns


def started(terms: Terms) -> Iterator[Line]:
    """From the start of the process to a window that can be used, in turns with a bare one."""
    ours, bare = in_turns(
        terms.many(15, 5),
        lambda n: _opened("ours", terms.folder / f"start {n}"),
        lambda n: _opened("bare", terms.folder / f"bare {n}"),
    )
    rival = median([usable for usable, _ in bare])
    yield told("window, first picture", "p50", median([painted for _, painted in ours]), "ms")
    yield times_at_most("window that can be used", "p50", median([one for one, _ in ours]), "ms", rival, 1.5)


def drawn(terms: Terms) -> Iterator[Line]:
    """A picture of six traces at few and at many readings."""
    del terms
    for count in (10_000, 1_000_000):
        argv = command("measure.frames", count)
        said = json.loads(subprocess.run(argv, stdout=subprocess.PIPE, check=True).stdout)
        what = f"live picture, six traces, {count:,} readings"
        yield at_most(what, "p50", median(said["ms"]), "ms", 16.0)
        yield told(what, "p99", percentile(said["ms"], 0.99), "ms")
        yield at_most(what, "memory", said["memory"], "MB", 150.0)


def _opened(which: str, folder: Path) -> tuple[float, float]:
    """Milliseconds from the start of the process until it could be used, and until it was painted."""
    folder.mkdir(parents=True, exist_ok=True)
    begun = time.time()
    argv = command("measure.opening", which, folder)
    said = json.loads(subprocess.run(argv, stdout=subprocess.PIPE, check=True).stdout.splitlines()[-1])
    return 1e3 * (said["usable"] - begun), 1e3 * (said["painted"] - begun)
