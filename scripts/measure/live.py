"""A live, armed run of the real recorder on the far end without a model, driven as a person would.

As a program (`python -m measure.live SWITCH JSON`) it is the process that owns the recorder, so that
it can be killed like a window: its first line of output names the recorder's process, then the run is on.
"""

import argparse
import json
import os
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store.ids import new_id
from measure.processes import HANG

PULLS_IN = 0.3
"""Seconds after which a pumped relay has had the beats it needs to pull in."""
NO_SOUND = (sys.executable, "-c", "pass")
"""Stands for the sound player: starts, and makes no sound."""
_ON = frozenset({State.MOVING.value, State.DWELLING.value, State.READY.value})

_METER = """
[[meter]]
job = "meter {n}"
profile = "scpi-multimeter"
address = "{address}"
function = "volts_dc"
{interval}
"""

_SUPPLY = """
[[supply]]
job = "supply"
profile = "scpi-supply"
address = "{supply}"
"""

_SWITCH = {
    "supply": '[[off_switch]]\nkind = "supply"\n',
    "relay": '[[off_switch]]\nkind = "relay"\naddress = "{relay}"\n',
}

# High trips at once on two readings in a row; low rests while the source moves, as in any plan.
_TRACE = """
[[trace]]
name = "meter {n}"
role = "regulated"

[[limit]]
trace = "meter {n}"
kind = "high"
value = 5.0

[[limit]]
trace = "meter {n}"
kind = "low"
value = 0.1
"""

_SOURCE = {
    "supply": """
[source]
moved_by = "program"
chain = ["bench supply"]
supply = "supply"

[[stage]]
name = "all of it"
volts = 10.0
current_limit = 0.1
dwell = 100000.0
""",
    "relay": """
[source]
moved_by = "hand"
chain = ["relay", "variable transformer", "lamp"]
mains = 230.0
lamp_watts = 60.0

[[stage]]
name = "all of it"
fraction = 0.1
dwell = 100000.0
""",
}


def bench_text(
    meters: Sequence[str], switch: str, *, supply: str, relay: str, interval: float | None = None
) -> str:
    """A bench file of these meters, `interval` seconds between questions or as fast as they answer."""
    asked = "" if interval is None else f"interval = {interval}"
    entries = [_METER.format(n=n, address=address, interval=asked) for n, address in enumerate(meters)]
    supplies = _SUPPLY.format(supply=supply) if switch == "supply" else ""
    head = 'file = "benchlog bench 1"\nname = "bare"\n'
    return head + "".join(entries) + supplies + _SWITCH[switch].format(relay=relay)


def plan_text(meters: int, switch: str, tail: float = 0.0) -> str:
    """A plan with a trace and two limits for each meter, and one stage that never ends by itself."""
    traces = "".join(_TRACE.format(n=n) for n in range(meters))
    return f'file = "benchlog plan 1"\nname = "bare"\ntail = {tail}\ncold = []\n{_SOURCE[switch]}{traces}'


class Live:
    """A recorder of this process with a run that is on; left by the `with` block, which closes it."""

    def __init__(
        self,
        switch: str,
        bench: str,
        plan: str,
        folder: Path,
        *,
        rate: float = 1.0,
        alarm: bool = False,
        player: Sequence[str] | None = None,
        argv: Sequence[str] | None = None,
    ) -> None:
        self.session = Path()
        self._on = threading.Event()
        self._cut = threading.Event()
        self._again = threading.Event()
        self._closed = threading.Event()
        self._grave = ""
        self.recorder = Recorder.start(
            on_message=self._hear,
            alarm=alarm,
            player=(player or NO_SOUND) if alarm else None,
            command=argv,
            log_dir=folder,
        )
        try:
            self._go_live(switch, bench, plan, folder, rate)
        except BaseException:
            self.recorder.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def wait_cut(self) -> None:
        """Wait until the recorder has said what came of a cut, and forget that it did."""
        self._await(self._cut, "a cut")
        self._cut.clear()

    def wait_armed_again(self) -> None:
        """Wait until the benchmark's own recorder is armed again after a violation."""
        self._await(self._again, "an armed run")
        self._again.clear()

    def close(self) -> None:
        """Have it cut and close its session, and end it."""
        recorder = self.recorder
        if recorder.alive and recorder.armed:
            recorder.post(messages.Cut(id=0))
            until = time.monotonic() + HANG
            # A relay's off is proven by nothing here: its tail would be a minute.
            while not self._closed.wait(0.05) and time.monotonic() < until:
                recorder.post(messages.Act(id=0, what="close"))
        recorder.close()

    def _go_live(self, switch: str, bench: str, plan: str, folder: Path, rate: float) -> None:
        ask = self.recorder.request
        answer = ask(messages.OpenBench(id=0, text=bench, place="bench", profiles=[], rate=rate), HANG)
        bad = {job: said for job, said in answer["meters"].items() if said[0] != "open"}
        if bad:
            raise RuntimeError(f"not open: {bad}")
        ask(messages.LoadPlan(id=0, text=plan, place="plan"))
        ask(messages.Prove(id=0), HANG)
        self._cut.clear()
        arm = messages.Arm(id=0, session=new_id(), folder=str(folder / "sessions"))
        self.session = Path(ask(arm, HANG)["session"])
        ask(messages.Act(id=0, what="next"))
        self._await(self._on, "the unit on")
        if switch == "relay":
            time.sleep(PULLS_IN)

    def _await(self, event: threading.Event, what: str) -> None:
        until = time.monotonic() + HANG
        while not event.wait(0.1):
            if self._grave or time.monotonic() > until:
                raise TimeoutError(f"{what} did not come: {self._grave or f'not within {HANG:g} s'}")

    def _hear(self, message: messages.Message) -> None:
        if isinstance(message, messages.Prompt):
            self.recorder.post(messages.Answer(id=0, prompt=message.prompt))
        elif isinstance(message, messages.Stage) and message.state in _ON:
            self._on.set()
        elif isinstance(message, messages.CutState):
            self._cut.set()
        elif isinstance(message, messages.Event) and message.kind == "armed again":
            self._again.set()
        elif isinstance(message, messages.Closed):
            self._closed.set()
        elif isinstance(message, messages.Notice) and message.grave:
            self._grave = f"{message.place}: {message.problem}"


def main() -> int:
    """Be the process that owns a recorder, until killed or until the end of standard input."""
    parser = argparse.ArgumentParser(prog="python -m measure.live")
    parser.add_argument("switch", choices=tuple(_SWITCH))
    parser.add_argument("far_end", help="JSON: meters, supply, relay")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--interval", type=float, default=0.1)
    args = parser.parse_args()
    far: dict[str, Any] = json.loads(args.far_end)
    bench = bench_text(
        far["meters"], args.switch, supply=far["supply"], relay=far["relay"], interval=args.interval
    )
    with Live(args.switch, bench, plan_text(len(far["meters"]), args.switch), args.folder) as live:
        print(json.dumps({"recorder": live.recorder.pid}), flush=True)
        while os.read(0, 4096):
            pass
    return 0


if __name__ == "__main__":
    sys.exit(main())
