"""Faults on the commonest bench, from the moment each is put in to the unit off: `python -m measure.faulted`.

The far end lives in this process, recorder and alarm in processes of their own, all at the pace of life: a
handheld that writes three readings a second on the rail, a network meter at four a second across the lamp.
The unit is sound until the run stands at its first stage, the hand drilled and every limit armed; then the fault
is put in.
"""

import argparse
import json
import random
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from helpers.live_bench import LiveBench
from helpers.near import bench_text
from helpers.plans import short_plan

from benchlog.commands.conduct import Conductor, Ear
from benchlog.commands.simulated import Hands
from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.simbench import truth
from measure.processes import HANG

EXAMPLE = "by-hand"
SETTLED = 12.0
"""Seconds at the stage after which a fault is put in at the earliest: whatever waits for rest is armed by then."""
SPREAD = 1.0
"""Seconds over which it falls anywhere between two readings."""
DWELL, TAIL = 5.0, 2.0
"""Seconds at the stage until the hand is drilled, and after the off, at least."""
RELAY = '[[off_switch]]\nkind = "relay"\njob = "mains relay"\naddress = "{address}"\n'


class Meddling(Hands):
    """The simulated person, who lets a fault play once the unit has stood at its stage for a while."""

    def __init__(self, far: LiveBench, chance: random.Random) -> None:
        super().__init__(far.address("control"))
        self._chance = chance
        self._by_relay = "mains relay" in far.bench.addresses
        self.fresh("healthy")

    def fresh(self, fault: str) -> None:
        """Another run, of a unit that has been mended; that fault is the next."""
        self.ask(do="fault", name="healthy")
        # Counts the clicks of a relay anew: those of the run before are none of this one's.
        self.ask(do="prompt", kind="relay_clicked", times=1)
        if self._by_relay:
            # At the alarm of the run before this hand went to the wall as well.
            self.ask(do="switch", on=True)
        self._fault, self._begun = fault, False
        self.cut_at = 0
        self.trip: messages.Trip | None = None
        self.drilled: float | None = None
        """Seconds from the alarm to the unit seen off, as the recorder drilled this hand before."""

    def see(self, message: messages.Message) -> None:
        """Look at what is published."""
        if isinstance(message, messages.Stage) and message.state == State.READY and not self._begun:
            self._begun = True
            timer = threading.Timer(SETTLED + self._chance.uniform(0.0, SPREAD), self._put_in)
            timer.daemon = True
            timer.start()
        elif isinstance(message, messages.Trip):
            self.trip = message
        elif isinstance(message, messages.Event) and message.kind == "drill":
            self.drilled = message.data["seconds"]
        elif isinstance(message, messages.Event) and message.kind == "off" and self.trip is not None:
            self.cut_at = message.data["wire_ns"]

    def goes_on(self, stage: messages.Stage) -> str:
        """It stays where it is until the fault has tripped."""
        return "" if stage.state == State.READY else super().goes_on(stage)

    def _put_in(self) -> None:
        self.ask(do="fault", name=self._fault)


def play(switch: str, faults: list[str], seed: int, home: Path) -> Iterator[dict[str, Any]]:
    """Play one after the other; seconds from each to what came of it, or why there is nothing to tell."""
    instruments = truth.load(EXAMPLE, "healthy").instruments
    if switch == "relay":
        instruments = (*instruments, truth.InstrumentTruth("mains relay", "relay"))
    far = LiveBench(EXAMPLE, "healthy", 1.0, instruments, seed=seed)
    person = Meddling(far, random.Random(seed))
    ears = [Ear(person.see)]

    def heard(message: messages.Message) -> None:
        ears[-1].hear(message)

    player = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")]
    try:
        with Recorder.start(on_message=heard, player=player, log_dir=home) as recorder:
            ask, bench = recorder.request, _bench(far, switch)
            ask(messages.OpenBench(id=0, text=bench, place="bench", profiles=[], rate=1.0), HANG)
            for fault in faults:
                person.fresh(fault)
                ears.append(Ear(person.see))
                begun = len(far.seen)
                plan = short_plan(EXAMPLE, dwell=DWELL, tail=TAIL)
                ask(messages.LoadPlan(id=0, text=plan, place="plan"), HANG)
                course = Conductor(recorder, ears[-1], person).run(str(home / "sessions"))
                reason = course.closed.reason if course.closed else "not closed"
                yield _told(far.seen[begun:], person, fault) or {"fault": fault, "why": reason}
    finally:
        person.close()
        far.close()


def _bench(far: LiveBench, switch: str) -> str:
    """The example's bench file, with a pumped relay for an off-switch in place of the hand."""
    text = bench_text(far, EXAMPLE)
    if switch == "hand":
        return text
    return text[: text.index("[[off_switch]]")] + RELAY.format(address=far.address("mains relay"))


def _told(seen: list[dict[str, Any]], person: Meddling, fault: str) -> dict[str, Any]:
    """What the far end's witness says, in seconds from the fault; nothing where it did not come to an off."""
    began = next((one["t"] for one in seen if one["saw"] == "fault" and one["name"] == fault), 0)
    after = [one for one in seen if one["t"] >= began]
    heard = next((one["t"] for one in after if one["saw"] == "alarm"), 0)
    off = next((one["t"] for one in after if one["saw"] == "mains" and not one["on"]), 0)
    trip = person.trip
    if trip is None or not (began and off) or trip.wire_ns < began:
        return {}
    return {
        "fault": fault,
        "trace": trip.trace,
        "limit": trip.limit,
        "decided": (person.cut_at - began) / 1e9,
        # A hand that saw the call on the screen may be quicker than the alarm.
        "heard": (heard - began) / 1e9 if heard else None,
        "off": (off - began) / 1e9,
        "hand": (off - person.cut_at) / 1e9,
        "drilled": person.drilled,
    }


def main() -> int:
    """Play the one that is named, and print what came of it."""
    parser = argparse.ArgumentParser(prog="python -m measure.faulted")
    parser.add_argument("switch", choices=("hand", "relay"))
    parser.add_argument("seed", type=int)
    parser.add_argument("folder", type=Path)
    parser.add_argument("faults", nargs="+")
    args = parser.parse_args()
    args.folder.mkdir(parents=True, exist_ok=True)
    for told in play(args.switch, args.faults, args.seed, args.folder):
        print(json.dumps(told), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
