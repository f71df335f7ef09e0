"""How long a command takes that only computes, beside a Python that does nothing."""

import subprocess
import sys
import time
from collections.abc import Iterator

from measure.processes import command
from measure.table import Line, median
from measure.terms import Terms
from measure.turns import in_turns


def decoded(terms: Terms) -> Iterator[Line]:
    """`benchlog decode 4k7` and `python -c pass`, in turns."""
    ours, bare = in_turns(
        terms.many(30, 10),
        lambda _: _wall(command("benchlog", "decode", "4k7")),
        lambda _: _wall([sys.executable, "-c", "pass"]),
    )
    yield Line("decode 4k7, against python -c pass", "p50", median(ours), "ms", median(bare))


def _wall(argv: list[str]) -> float:
    """Milliseconds from start to end."""
    begun = time.perf_counter()
    subprocess.run(argv, stdout=subprocess.DEVNULL, check=True)
    return 1e3 * (time.perf_counter() - begun)
