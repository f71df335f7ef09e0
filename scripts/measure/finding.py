"""Finding past runs: a key in the field of a list of 5,000 runs, to the list that shows what is left."""

import json
import subprocess
import sys
from collections.abc import Iterator

from measure.processes import HANG
from measure.table import Line, at_most, spread, told
from measure.terms import Terms

RUNS = 5_000
GOAL = 50.0
"""Milliseconds from a key to the narrowed list."""


def typed(terms: Terms) -> Iterator[Line]:
    """Words typed key by key in a window of its own; the median, the 99th percentile and the slowest key."""
    runs = terms.many(RUNS, RUNS // 10)
    found = subprocess.run(
        [sys.executable, "-m", "measure.keys_typed", str(runs)],
        capture_output=True, text=True, timeout=HANG, check=True,
    )  # fmt: skip
    took = spread(json.loads(found.stdout)["ms"])
    what = f"a key in the field over {runs} past runs"
    yield at_most(what, "p50", took.p50, "ms", GOAL)
    yield at_most(what, "p99", took.p99, "ms", GOAL)
    yield told(what, "slowest", took.highest, "ms")
