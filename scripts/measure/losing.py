"""What is lost just as a limit breaks: the supply's connections, the alarm's process; to the cut, and to the sound."""

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from measure.far_end import FarEnd
from measure.live import Live, bench_text, plan_text
from measure.processes import HANG, HAS_PROC, KILL
from measure.table import Line, at_most, spread, told
from measure.terms import Terms

METERS = 6
DELAY = 0.002
REACHED = 2000.0
"""Milliseconds in which a supply that takes connections again must have been cut over a new one."""
SOUNDS = "import sys, time; open(sys.argv[1], 'a').write(f'{time.monotonic_ns()}\\n')"
"""Stands for a sound player: notes when it began to play."""


def connections(terms: Terms) -> Iterator[Line]:
    """The supply drops every connection and takes new ones; a meter violates from that moment on."""
    found = []
    with FarEnd(METERS, DELAY) as far:
        for n in range(terms.many(50, 5)):
            with _live(far, "supply", terms.folder / f"drop {n}"):
                far.forget()
                begun = time.monotonic_ns()
                far.hang_up(n % METERS)
                found.append((far.cut(n % METERS).t - begun) / 1e6)
    said = spread(found)
    what = f"supply's connections dropped to cut, {said.count} x"
    yield told(
        what, "p50", said.p50, "ms", "from the drop, with which a limit breaks: two readings of it are in it"
    )
    yield at_most(what, "p99", said.p99, "ms", REACHED)
    yield at_most(what, "max", said.highest, "ms", REACHED)


def alarm(terms: Terms) -> Iterator[Line]:
    """The alarm is killed and a meter violates from that moment on: the cut does not wait, a new alarm sounds."""
    if not HAS_PROC:
        yield told("alarm killed to sound", "", None, "", "not measured: this system has no /proc")
        return
    sounds: list[float] = []
    for switch in ("supply", "relay"):
        cuts = []
        with FarEnd(METERS, DELAY) as far:
            for n in range(terms.many(25, 3)):
                folder = terms.folder / f"{switch} {n}"
                folder.mkdir()
                sounded = folder / "sounded"
                player = [sys.executable, "-S", "-c", SOUNDS, str(sounded)]
                with _live(far, switch, folder, player) as live:
                    far.forget()
                    begun = time.monotonic_ns()
                    os.kill(_alarm_of(live.recorder.pid), KILL)
                    far.violate(n % METERS)
                    cut = far.cut(n % METERS)
                    cuts.append(((cut.silent_since or cut.t) - begun) / 1e6)
                    if switch == "relay":
                        # A supply is seen off, and nothing calls any more, before a new alarm has started.
                        sounds.append((_first(sounded, begun) - begun) / 1e6)
        cut_in = spread(cuts)
        what = f"alarm killed to cut, {switch}, {cut_in.count} x"
        command = "last byte" if switch == "relay" else "off"
        note = "from the kill, with which a limit breaks: two readings of it are in it"
        yield told(what, f"{command} p50", cut_in.p50, "ms", note)
        yield told(what, f"{command} max", cut_in.highest, "ms")
    sound_in = spread(sounds)
    what = f"alarm killed to sound, relay, {sound_in.count} x"
    yield told(what, "p50", sound_in.p50, "ms", "a new alarm starts, and starts its player")
    yield told(what, "max", sound_in.highest, "ms")


def _live(far: FarEnd, switch: str, folder: Path, player: list[str] | None = None) -> Live:
    bench = bench_text(far.meters, switch, supply=far.supply, relay=far.relay)
    plan = plan_text(METERS, switch)
    return Live(switch, bench, plan, folder, alarm=player is not None, player=player)


def _alarm_of(recorder: int) -> int:
    """The process number of a recorder's alarm."""
    children = Path(f"/proc/{recorder}/task").glob("*/children")
    for child in " ".join(path.read_text(encoding="ascii") for path in children).split():
        if b"benchlog.alarm" in Path(f"/proc/{child}/cmdline").read_bytes():
            return int(child)
    raise RuntimeError("the recorder has no alarm")


def _first(sounded: Path, since: int) -> int:
    """When the player was first started after that; TimeoutError where it was not."""
    until = time.monotonic() + HANG
    while time.monotonic() < until:
        times = [int(line) for line in sounded.read_text().split()] if sounded.exists() else []
        if after := [t for t in times if t > since]:
            return after[0]
        time.sleep(0.005)
    raise TimeoutError("no alarm sounded")
