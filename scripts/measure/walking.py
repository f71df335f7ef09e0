"""Ten thousand parts: the list scrolled, the next part, words that narrow it, a reading stored; a picture's wait."""

import json
import subprocess
from collections.abc import Iterator

from measure.processes import HANG, command
from measure.table import Line, at_most, spread, told
from measure.terms import Terms

PARTS = 10_000
GOAL = 16.0
"""Milliseconds that a picture may have to wait: sixty a second."""


def gone_over(terms: Terms) -> Iterator[Line]:
    """In a window of its own; the median, the 99th percentile and the longest."""
    parts = terms.many(PARTS, PARTS // 10)
    argv = command("measure.parts_walked", parts)
    found = subprocess.run(argv, capture_output=True, text=True, timeout=5 * HANG, check=True)
    for what, took in json.loads(found.stdout).items():
        seen = spread(took)
        named = f"{what}, {parts:,} parts"
        yield at_most(named, "p50", seen.p50, "ms", GOAL)
        yield at_most(named, "p99", seen.p99, "ms", GOAL)
        yield told(named, "longest", seen.highest, "ms")
