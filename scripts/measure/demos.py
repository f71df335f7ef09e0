"""The demo's own times."""

import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from measure.processes import command
from measure.table import Line
from measure.terms import Terms

EXAMPLES = ("amplifier", "by-hand", "board")
FAULTS = ("shorted-output", "missing-rail", "runaway", "silent-meter")
HEALTHY_SECONDS, FAULT_SECONDS = 90.0, 60.0
HEALTHY_STATUS, TRIPPED_STATUS = 0, 3
LONGEST = 600.0


@dataclass(frozen=True, slots=True)
class Demo:
    """One demo that ran to its end: wall seconds, exit status."""

    seconds: float
    status: int


def play(example: str, fault: str, library: Path) -> Demo:
    """Run `benchlog demo --headless`; its speed is the one it has by itself."""
    argv = command(
        "benchlog",
        "--library",
        library,
        "demo",
        "--headless",
        "--json",
        "--example",
        example,
        "--fault",
        fault,
    )
    begun = time.monotonic()
    ran = subprocess.run(argv, capture_output=True, text=True, encoding="utf-8", timeout=LONGEST, check=False)
    seconds = time.monotonic() - begun
    return Demo(seconds, ran.returncode)


def times(terms: Terms) -> Iterator[Line]:
    """Every example, healthy and with each fault: wall seconds, and whether it ended as it must."""
    chosen = [(example, fault) for example in EXAMPLES for fault in ("healthy", *FAULTS)]
    if terms.quick:
        chosen = [("board", "healthy"), ("board", FAULTS[0])]
    for example, fault in chosen:
        healthy = fault == "healthy"
        goal, status = (HEALTHY_SECONDS, HEALTHY_STATUS) if healthy else (FAULT_SECONDS, TRIPPED_STATUS)
        demo = play(example, fault, terms.folder / f"{example} {fault}")
        note = "" if demo.status == status else f"ended with status {demo.status} in place of {status}"
        met = demo.seconds <= goal and demo.status == status
        what = f"demo {example}, {fault}"
        yield Line(what, "wall", demo.seconds, "s", goal=f"<= {goal:g} s", met=met, note=note)
