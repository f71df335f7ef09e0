"""The demo's own times, and from fault to off on the commonest bench, by the witness's word."""

import json
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from measure.processes import command
from measure.table import Line, told
from measure.terms import Terms

EXAMPLES = ("amplifier", "by-hand", "board")
FAULTS = ("shorted-output", "missing-rail", "runaway", "silent-meter")
HEALTHY_SECONDS, FAULT_SECONDS = 90.0, 60.0
HEALTHY_STATUS, TRIPPED_STATUS = 0, 3
SPEED = 10.0
LONGEST = 600.0

Said = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Demo:
    """One demo that ran to its end: wall seconds, exit status, what it streamed, what the far end saw."""

    seconds: float
    status: int
    stream: list[Said]
    witness: list[Said]


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
    stream = [json.loads(line) for line in ran.stdout.splitlines()]
    witness = (library / "witness.jsonl").read_text(encoding="utf-8").splitlines()
    return Demo(seconds, ran.returncode, stream, [json.loads(line) for line in witness])


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


def by_hand(terms: Terms) -> Iterator[Line]:
    """The commonest bench: violating reply, alarm in the person's ear, mains off by the person's hand."""
    for fault in FAULTS[: terms.many(3, 1)]:
        demo = play("by-hand", fault, terms.folder / fault)
        what = f"fault to off by hand, {fault}"
        trip = next((said for said in demo.stream if said["is"] == "trip"), None)
        if trip is None:
            yield told(what, "", None, "s", f"did not trip; status {demo.status}")
            continue
        seen = _after(demo.witness, trip["wire_ns"], trip["trace"])
        if seen is None:
            yield told(what, "", None, "s", "the witness saw no such reply, no alarm or no off")
            continue
        reply, heard, off = seen
        yield told(what, "alarm heard", (heard - reply) / 1e9, "s", "from the reply that decided")
        hand = (off - heard) / 1e9
        note = f"the simulated hand's own {hand * SPEED:.1f} s, played {SPEED:g} times as fast, are in it"
        yield told(what, "mains off", (off - reply) / 1e9, "s", note)


def _after(witness: list[Said], wire_ns: int, job: str) -> tuple[int, int, int] | None:
    """When the deciding reply left, the alarm was heard and the mains went off, monotonic ns."""
    replies = [s["t"] for s in witness if s["saw"] == "reply" and s["job"] == job and s["t"] <= wire_ns]
    reply = max(replies, default=0)
    heard = [s["t"] for s in witness if s["saw"] == "alarm" and s["t"] >= reply]
    off = [s["t"] for s in witness if s["saw"] == "mains" and not s["on"] and s["t"] >= reply]
    return (reply, min(heard), min(off)) if reply and heard and off else None
