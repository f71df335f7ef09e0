"""Plays one signature without a window: `python -m helpers.signature_run NAME FOLDER` prints what came of it.

The bench lives in this process, so that its truth can be looked at; recorder and alarm are processes of their own.
"""

import json
import subprocess
import sys
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from helpers.live_bench import LiveBench
from helpers.near import bench_text
from helpers.program import environment
from helpers.signatures import BY_NAME, Signature, amplifier, plan_of

from benchlog.commands.conduct import Conductor, Ear
from benchlog.commands.simulated import Hands
from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import query

HANG = 240.0
TRIES = 3
SECOND = 1e9


@dataclass(slots=True)
class Came:
    """What came of a run.

    Attributes:
        stages: those reached, in their order.
        ready: those that were ready to be left, with their real ns.
        broke_at: real ns of the reading, or of the silence, that decided; of the warning where nothing tripped.
        cut_at: real ns at which the off-switch was asked.
        true_since: real ns since when the fault was true as it was decided; 0 where it was not true.
        value: what the trace read that tripped.
        awaited: what the last stage still waited for, as it was last told.
        warned: the sentences of warning.
        doubts: what the meter that was meddled with is called from the act on, with the number of such readings.
        off: how the off-switch stood at the end.
        off_at: real ns at which the far end went off, 0 for never.
    """

    outcome: str = ""
    reason: str = ""
    stages: list[str] = field(default_factory=list)
    ready: list[tuple[str, int]] = field(default_factory=list)
    trace: str = ""
    limit: str = ""
    value: float | None = None
    broke_at: int = 0
    true_since: int = 0
    cut_at: int = 0
    off_at: int = 0
    awaited: list[str] = field(default_factory=list)
    off: str = ""
    speed: float = 1.0
    warned: list[str] = field(default_factory=list)
    doubts: dict[str, int] = field(default_factory=dict)
    complaints: list[str] = field(default_factory=list)

    @property
    def delay(self) -> float:
        """Seconds from the fault true at the far end to the cut, or to the warning where nothing tripped.

        Plan seconds, but of silence, which is counted in real ones.
        """
        rate = 1.0 if self.limit == "lost" else self.speed
        return ((self.cut_at or self.broke_at) - self.true_since) * rate / SECOND


def play(name: str, home: Path) -> Came:
    """Play it in a process of its own; once more where a process of it got no turn for seconds."""
    came = Came()
    for n in range(TRIES):
        folder = home / str(n)
        folder.mkdir(parents=True)
        command = [sys.executable, "-m", "helpers.signature_run", name, str(folder)]
        ran = subprocess.run(
            command,
            # Not measured: a coverage tracer makes a model at twenty times life too slow for two cores.
            env={key: one for key, one in environment(folder).items() if not key.startswith("COVERAGE_")},
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=HANG,
            check=False,
        )
        if ran.returncode:
            raise AssertionError(f"{name} ended with {ran.returncode}:\n{ran.stderr}")
        came = Came(**json.loads(ran.stdout))
        another_fell_silent = came.limit == "lost" and (came.trace, "lost") not in BY_NAME[name].limits
        stood = any("stood still" in said for said in (came.reason, *came.complaints))
        if not another_fell_silent and not stood:
            break
    return came


class _Truth:
    """Notes when a signature becomes true and when it is no more, after each step of the model."""

    def __init__(self, far: LiveBench, signature: Signature) -> None:
        self.turns: list[tuple[int, bool]] = [(0, False)]
        step, bench, is_true = far.bench.model.step, far.bench, signature.true

        def stepped(seconds: float) -> None:
            step(seconds)
            if is_true is not None and is_true(bench) != self.turns[-1][1]:
                self.turns.append((time.monotonic_ns(), not self.turns[-1][1]))

        setattr(far.bench.model, "step", stepped)  # noqa: B010 - mypy takes it for a method

    def since(self, t: int) -> int:
        """Since when it was true at `t`; 0 where it was not."""
        began, true = [turn for turn in self.turns if turn[0] <= t][-1]
        return began if true else 0

    @property
    def first(self) -> int:
        """When it was first true; 0 for never."""
        return next((began for began, true in self.turns if true), 0)


class _Person(Hands):
    """The simulated person, who meddles with a meter at a stage and gives up what is not offered for long."""

    def __init__(self, far: LiveBench, signature: Signature, came: Came) -> None:
        super().__init__(far.address("control"))
        self._far, self._signature, self._came = far, signature, came
        self._since = time.monotonic()
        self._index = -1
        self._meddled = False

    def see(self, message: messages.Message) -> None:
        """Look at what is published."""
        came, act = self._came, self._signature.act
        if isinstance(message, messages.Stage):
            if message.index != self._index:
                self._index, self._since = message.index, time.monotonic()
            if message.state == State.DWELLING:
                came.awaited = [f"{what}: {how}" for what, holds, how in message.waits if not holds]
            if message.state == State.READY and (not came.ready or came.ready[-1][0] != message.name):
                came.ready.append((message.name, time.monotonic_ns()))
            waited = (time.monotonic() - self._since) * self._far.bench.speed
            if message.state == State.DWELLING and message.left == 0.0 and waited > self._signature.patience:
                self._run.act("off", -1)
            if act and not self._meddled and (message.state, message.name) == (State.DWELLING, act.stage):
                self._meddled = True
                self._far.loop.after(0.0, lambda: self._far.bench.person.tamper(act.job, act.does))
        elif isinstance(message, messages.Trip):
            came.trace, came.limit, came.value = message.trace, message.limit, message.value
            came.broke_at = message.wire_ns
        elif isinstance(message, messages.Event) and message.kind == "off" and came.trace:
            came.cut_at = message.data["wire_ns"]
            # Silence is counted from the last good reading, and comes to nothing before its time.
            came.broke_at = came.cut_at if came.limit == "lost" else came.broke_at
        elif isinstance(message, messages.Event) and message.kind == "warn":
            came.warned.append(message.text)
        elif isinstance(message, messages.Notice):
            came.complaints.append(f"{message.place}: {message.problem}")


def run(signature: Signature, home: Path) -> Came:
    """Play a signature to its end, in this process."""
    came = Came(speed=signature.speed)
    far = LiveBench(signature.example, signature.fault, signature.speed)
    if signature.lamp is not None:
        amplifier(far.bench).fit_lamp(signature.lamp)
    truth = _Truth(far, signature)
    person = _Person(far, signature, came)
    ear = Ear(person.see)
    player = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")]
    try:
        with Recorder.start(on_message=ear.hear, player=player, log_dir=home) as recorder:
            bench = bench_text(far, signature.example)
            ask = recorder.request
            ask(messages.OpenBench(id=0, text=bench, place="bench", profiles=[], rate=signature.speed), HANG)
            ask(messages.LoadPlan(id=0, text=plan_of(signature), place="plan"))
            conductor = Conductor(recorder, ear, person)
            course = conductor.run(str(home / "sessions"))
    finally:
        person.close()
        far.close()
    assert course.closed is not None
    came.outcome, came.reason, came.off = course.closed.outcome, course.closed.reason, course.off
    came.stages = course.stages
    _account(came, signature, truth, far.seen, Path(course.closed.path))
    return came


def _account(
    came: Came, signature: Signature, truth: _Truth, seen: list[dict[str, Any]], session: Path
) -> None:
    """What the session's file, the far end's truth and its witness add."""
    anchor = query.anchors(session)[0]
    if not came.broke_at:
        warned = [
            one for one in query.events(session, "warn") if signature.says and signature.says in one.text
        ]
        if warned:
            came.broke_at = anchor.wire_ns + round(warned[0].t / signature.speed)
            came.trace, came.limit = warned[0].data.get("trace", ""), warned[0].data.get("limit", "")
    # What only warns may have come and gone before a reading shows that it did.
    came.true_since = truth.since(came.broke_at) or (0 if came.cut_at else truth.first)
    offs = [one["t"] for one in seen if one["saw"] in ("mains", "power") and not one["on"]]
    came.off_at = next((t for t in offs if t >= came.broke_at), 0)
    if signature.act is None:
        return
    meddled = next(one["t"] for one in seen if one["saw"] == "meter")
    (trace,) = [one for one in query.traces(session) if one.name == signature.act.job]
    for row in query.rows(session, trace.id):
        if anchor.wire_ns + row.t / signature.speed > meddled:
            came.doubts[row.outcome] = came.doubts.get(row.outcome, 0) + 1


def main() -> int:
    """Play the one that is named, and print what came of it."""
    print(json.dumps(asdict(run(BY_NAME[sys.argv[1]], Path(sys.argv[2])))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
