"""From the death of a process to the cut on the far end's wire, with real processes and real signals."""

import json
import os
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from measure.far_end import FarEnd
from measure.processes import Running, command, end
from measure.table import Line, at_most, spread, told
from measure.terms import Terms

METERS = 6
DELAY = 0.002


@dataclass(frozen=True, slots=True)
class Death:
    """Who dies of what, and how many ms the cut may then take."""

    what: str
    recorder: bool
    by: str
    goal: float


DEATHS = (
    Death("window killed to cut", False, "SIGKILL", 50.0),
    Death("recorder killed to cut", True, "SIGKILL", 1000.0),
    Death("recorder frozen to cut", True, "SIGSTOP", 2500.0),
)


def to_cut(terms: Terms) -> Iterator[Line]:
    """Each kind of death, so many times over, with a supply and with a pumped relay."""
    trials = terms.many(50, 5)
    for death in DEATHS:
        if not hasattr(signal, death.by):
            yield told(death.what, "", None, "", "this system has no such signal")
            continue
        with FarEnd(METERS, DELAY) as far:
            cuts = [_trial(far, "supply", death, terms.folder / f"{death.what} {n}") for n in range(trials)]
            found = spread([cut for cut, _ in cuts])
            what = f"{death.what}, supply, {trials} x"
            yield told(what, "p50", found.p50, "ms")
            yield at_most(what, "max", found.highest, "ms", death.goal)
        with FarEnd(METERS, DELAY) as far:
            cuts = [_trial(far, "relay", death, terms.folder / f"{death.what}, {n}") for n in range(trials)]
            what = f"{death.what}, relay, {trials} x"
            yield at_most(what, "last byte max", max(silent for _, silent in cuts), "ms", death.goal)
            note = "contact; its drop-out of 500 ms from the last byte is the relay's own"
            yield told(what, "open max", max(cut for cut, _ in cuts), "ms", note)


def _trial(far: FarEnd, switch: str, death: Death, folder: Path) -> tuple[float, float]:
    """One death: ms from it to the cut, and to the last byte of a relay's line."""
    addresses = json.dumps({"meters": far.meters, "supply": far.supply, "relay": far.relay})
    with Running(command("measure.live", switch, addresses, folder)) as window:
        recorder = int(window.hear()["recorder"])
        # The off-switch was proven meanwhile: that was a cut as well.
        time.sleep(0.1)
        far.forget()
        died = time.monotonic_ns()
        os.kill(recorder if death.recorder else window.pid, getattr(signal, death.by))
        cut = far.cut()
        # Either would go on beside the next trial: the one has a tail to log, the other a recorder to mourn.
        window.kill()
        end(recorder)
    return (cut.t - died) / 1e6, (cut.silent_since - died) / 1e6
