"""From a fault in the unit to the unit off on the commonest bench, at the pace of life, by the witness's word."""

import contextlib
import math
from collections.abc import Iterator
from typing import Any

from measure.processes import Running, command
from measure.table import Line, median, percentile, told
from measure.terms import Terms

FAULTS = {"missing-rail": "+B by a handheld", "shorted-output": "lamp by a network meter"}
"""What each shows first: low on the rail, after a second; high on the lamp, after a second."""
AT_ONCE = 2
"""Benches side by side: each spends its time waiting for somebody to turn a dial."""
LONGEST = 180.0
"""Seconds in which a bench plays one fault."""
STEPS = {"decided": "decided", "heard": "alarm heard", "off": "mains off"}

Said = dict[str, Any]


def to_off(terms: Terms) -> Iterator[Line]:
    """Both faults in turn, off by a hand and by a pumped relay: median, p95 and longest of each step."""
    for switch in ("hand", "relay"):
        said = _played(terms, switch, terms.many(15, 2))
        failed = [one for one in said if "why" in one]
        for fault, by in FAULTS.items():
            found = [one for one in said if one.get("fault") == fault and "why" not in one]
            what = f"{fault} to off, {switch}, {len(found)} x"
            for key, step in STEPS.items():
                yield _step(what, step, found, key)
            if switch == "hand":
                yield _step(what, "of it the hand", found, "hand", f"; called at the decision; {by}")
                yield _step(what, "in its drill", found, "drilled", "; from alarm to seen off")
        if failed:
            yield told(f"to off, {switch}", "without a figure", len(failed), "", failed[0]["why"])


def _step(what: str, step: str, found: list[Said], key: str, more: str = "") -> Line:
    """Median, p95 and longest of one step, of those runs that have it."""
    values = [one[key] for one in found if one[key] is not None]
    rest = (
        f"p95 {percentile(values, 0.95):.2f} s, max {max(values, default=math.nan):.2f} s, of {len(values)}"
    )
    return told(what, step, median(values), "s", rest + more)


def _played(terms: Terms, switch: str, each: int) -> list[Said]:
    """What came of so many of each fault, on benches side by side."""
    said: list[Said] = []
    with contextlib.ExitStack() as stack:
        benches = []
        for n in range(AT_ONCE):
            argv = command("measure.faulted", switch, n + 1, terms.folder / f"{switch} {n}")
            count = each // AT_ONCE + (n < each % AT_ONCE)
            bench = stack.enter_context(Running([*argv, *(list(FAULTS) * count)]))
            benches.append((bench, count))
        for bench, count in benches:
            said += [bench.hear(LONGEST) for _ in range(count * len(FAULTS))]
    return said
