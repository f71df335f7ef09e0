"""What came of a run of one signature, held against the far end's own truth; the same with a window and without.

The bench lives in the process that plays it, so that its truth can be looked at; recorder and alarm have their own.
"""

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from helpers.live_bench import LiveBench
from helpers.program import environment
from helpers.signatures import BY_NAME, Signature, amplifier

from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.store import query

HANG = 240.0
TRIES = 3
NO_TURN = "stood still", "fell silent", "did not answer within"
"""What is said where a process of ours got no turn for seconds."""
SECOND = 1e9

T = TypeVar("T")


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

    def hear(self, message: messages.Message) -> None:
        """Take what the recorder says."""
        if isinstance(message, messages.Stage):
            if message.state == State.DWELLING:
                self.awaited = [f"{what}: {how}" for what, holds, how in message.waits if not holds]
            if message.state == State.READY and (not self.ready or self.ready[-1][0] != message.name):
                self.ready.append((message.name, time.monotonic_ns()))
        elif isinstance(message, messages.Trip):
            self.trace, self.limit, self.value = message.trace, message.limit, message.value
            self.broke_at = message.wire_ns
        elif isinstance(message, messages.Event) and message.kind == "off" and self.trace:
            self.cut_at = message.data["wire_ns"]
            # Silence is counted from the last good reading, and comes to nothing before its time.
            self.broke_at = self.cut_at if self.limit == "lost" else self.broke_at
        elif isinstance(message, messages.Event) and message.kind == "warn":
            self.warned.append(message.text)
        elif isinstance(message, messages.Notice):
            self.complaints.append(f"{message.place}: {message.problem}")

    def account(self, signature: Signature, truth: "Truth", session: Path) -> None:
        """Add what the session's file, the far end's truth and its witness know."""
        anchor = query.anchors(session)[0]
        if not self.broke_at:
            warned = [
                one for one in query.events(session, "warn") if signature.says and signature.says in one.text
            ]
            if warned:
                self.broke_at = anchor.wire_ns + round(warned[0].t / signature.speed)
                self.trace, self.limit = warned[0].data.get("trace", ""), warned[0].data.get("limit", "")
        # What only warns may have come and gone before a reading shows that it did.
        self.true_since = truth.since(self.broke_at) or (0 if self.cut_at else truth.first)
        offs = [one["t"] for one in truth.seen if one["saw"] in ("mains", "power") and not one["on"]]
        self.off_at = next((t for t in offs if t >= self.broke_at), 0)
        if signature.act is None:
            return
        (trace,) = [one for one in query.traces(session) if one.name == signature.act.job]
        for row in query.rows(session, trace.id):
            if anchor.wire_ns + row.t / signature.speed > truth.meddled:
                self.doubts[row.outcome] = self.doubts.get(row.outcome, 0) + 1


class Truth:
    """Notes when a signature becomes true and when it is no more, after each step of the model."""

    def __init__(self, far: LiveBench, signature: Signature) -> None:
        self.seen = far.seen
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

    @property
    def meddled(self) -> int:
        """When a meter was meddled with, as the witness saw it; 0 for never."""
        return next((one["t"] for one in list(self.seen) if one["saw"] == "meter"), 0)


class Patience:
    """What the simulated person goes by: how long the next stage is waited for, and whether it is time to meddle."""

    def __init__(self, signature: Signature) -> None:
        self._signature = signature
        self._index, self._since = -1, 0.0
        self._meddled = False

    def gives_up(self, stage: messages.Stage) -> bool:
        """Whether this stage has dwelt and the next one is not offered for so long that the person gives it up."""
        now, dwells = time.monotonic(), stage.state == State.DWELLING
        # What was offered and taken back, as by a joint's bad spell, begins the wait anew.
        if stage.index != self._index or stage.state == State.READY or (dwells and stage.left > 0.0):
            self._index, self._since = stage.index, now
        waited = (now - self._since) * self._signature.speed
        return dwells and stage.left == 0.0 and waited > self._signature.patience

    def to_meddle(self, stage: messages.Stage) -> bool:
        """Whether the meter is meddled with now, which is said once."""
        act = self._signature.act
        due = (
            act is not None and not self._meddled and (stage.state, stage.name) == (State.DWELLING, act.stage)
        )
        self._meddled = self._meddled or due
        return due


def live_for(signature: Signature) -> LiveBench:
    """The bench that a signature is played on."""
    far = LiveBench(signature.example, signature.fault, signature.speed)
    if signature.lamp is not None:
        amplifier(far.bench).fit_lamp(signature.lamp)
    return far


def play_apart(module: str, name: str, home: Path, read: Callable[[str], tuple[T, Came]], **more: Any) -> T:
    """Play a signature in a process of its own; once more where a process of it got no turn for seconds.

    `read` makes of what the module prints its own account, and what came of the run; `more` goes into its environment.
    """
    for n in range(TRIES):
        folder = home / str(n)
        folder.mkdir(parents=True)
        ran = subprocess.run(
            [sys.executable, "-m", module, name, str(folder)],
            # Not measured: a coverage tracer makes a model at twenty times life too slow for two cores.
            env={key: one for key, one in environment(folder).items() if not key.startswith("COVERAGE_")}
            | more,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=HANG,
            check=False,
        )
        if ran.returncode:
            if n + 1 < TRIES and any(what in ran.stderr for what in NO_TURN):
                continue
            raise AssertionError(f"{name} ended with {ran.returncode}:\n{ran.stderr}")
        account, came = read(ran.stdout)
        another_fell_silent = came.limit == "lost" and (came.trace, "lost") not in BY_NAME[name].limits
        said = (came.reason, *came.complaints)
        no_turn = any(what in one for one in said for what in NO_TURN)
        if not (another_fell_silent or no_turn):
            break
    return account
