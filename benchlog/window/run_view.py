"""What the window knows of a run, from what the recorder says: no Qt, no clock of its own, no decisions.

Times called `heard` are seconds of the window's own monotonic clock; plan times are seconds since the run's start.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from benchlog.domain.cold_checks import ColdAnswer, ColdCheck
from benchlog.domain.drift import switched_on
from benchlog.domain.loosening import with_figure
from benchlog.domain.offproof import FAILED
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Outcome
from benchlog.domain.reference import Reference
from benchlog.domain.stages import BEING_THERE, LIVE, State
from benchlog.domain.trust import UNPROVEN
from benchlog.instruments.bench import Bench
from benchlog.recorder.client import messages
from benchlog.window.cold import Cold
from benchlog.window.foretold import Foretold

SECOND = 1_000_000_000
NOT_KNOWN = "not known: "
"""Before a doubt that has outlived its run: the number that comes now is no better for it."""
STALE_AT_LEAST, STALE_INTERVALS = 2.0, 3.0
"""A number is not fresh after three of its meter's intervals, two seconds at least (rule 20)."""


class Phase(StrEnum):
    """How far a run has come, as the window sees it."""

    NOTHING = "nothing"
    BENCH = "bench open"
    CHECKED = "plan checked"
    PROVING = "proving"
    PROVEN = "proven"
    ARMED = "armed"
    LIVE = "live"
    OFF = "off"
    CLOSED = "closed"


_KEPT = 600
"""Readings of a fall that are kept: ten seconds of a fast meter."""
_PASSING = (Outcome.NOT_LIVE, Outcome.FLASH)
HOLDS = {"nothing": Phase.NOTHING, "bench": Phase.BENCH, "plan": Phase.CHECKED, "proof": Phase.PROVEN}
"""How far a run may have come by what holds at the recorder."""
_RANK = {Phase.NOTHING: 0, Phase.BENCH: 1, Phase.CHECKED: 2, Phase.PROVING: 2, Phase.PROVEN: 3}


@dataclass(slots=True)
class Live:
    """The newest reading of a trace, or of a meter that no trace shows."""

    name: str
    value: float | None = None
    outcome: str = Outcome.OK
    seq: int = 0
    t: float = 0.0
    heard: float = 0.0
    interval: float = 0.0
    """A smoothed time between readings, s."""

    def take(self, row: tuple[int, int, float | None, str], heard: float) -> bool:
        """Take one reading; false where some before it were dropped on the way."""
        seq, t, value, outcome = row
        whole = seq == self.seq + 1 or self.seq == 0 or seq <= self.seq
        self.seq, self.t, self.outcome = seq, t / SECOND, outcome
        self.value = value
        if outcome == Outcome.MISSING and self.heard:
            # No answer is no news: the silence goes on from the last one.
            return whole
        if self.heard:
            # A long silence says nothing about how often it reads: counted whole, it would make the next one fresh.
            gap = min(heard - self.heard, self._may_take)
            self.interval += 0.2 * (gap - self.interval)
        self.heard = heard
        return whole

    def age(self, now: float) -> float:
        """Seconds since its meter was heard."""
        return max(0.0, now - self.heard)

    def stale(self, now: float) -> bool:
        """Whether it may no longer be shown as a value of now."""
        return not self.heard or self.age(now) > self._may_take

    @property
    def _may_take(self) -> float:
        """Seconds the next reading may take before this one is old."""
        return max(STALE_AT_LEAST, STALE_INTERVALS * self.interval)


@dataclass(frozen=True, slots=True)
class Moment:
    """Something that happened in the run, for the list and the graph; `t` in plan seconds."""

    t: float
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class GoingBack:
    """The run that tripped, by its file; the stage to be climbed back to, and the cause that was named."""

    file: str
    stage: str
    cause: str


@dataclass(slots=True)
class RunView:
    """One run, from the opening of a bench to its close; a new run begins with a new view."""

    phase: Phase = Phase.NOTHING
    bench: Bench | None = None
    plan: Plan | None = None
    plan_text: str = ""
    reference: Reference | None = None
    """The good run of the unit that the plan is held against; None where there is none."""
    cold: Cold | None = None
    """The cold checks of the plan at hand; None where there is none."""
    sentences: list[str] = field(default_factory=list)
    proofs: list[str] = field(default_factory=list)
    session: str = ""
    stage: messages.Stage | None = None
    marks: list[tuple[float, str]] = field(default_factory=list)
    """When each stage was reached, plan seconds, and its name."""
    prompt: messages.Prompt | None = None
    moments: list[Moment] = field(default_factory=list)
    trip: messages.Trip | None = None
    on_at: float | None = None
    """When the unit was switched on for the last time, plan seconds; None where it was not."""
    touched_at: float | None = None
    """When a trimmer was turned for the last time, plan seconds."""
    off_at: float | None = None
    off_reason: str = ""
    off_why: str = ""
    """`trip`, `cut`, or `off` where it went off in good order."""
    falls: dict[str, deque[tuple[float, float]]] = field(default_factory=dict)
    """What each trace has read of late, since off or since it falls for a change: plan seconds and value."""
    discharge: dict[str, tuple[str, str]] = field(default_factory=dict)
    """How the recorder says that each reservoir stands since off: the state, and that in words."""
    told_off: bool = False
    """Whether a person said after the cut that the unit is off."""
    falling_since: float | None = None
    """Since when it falls for a change, plan seconds; None where it is not being changed."""
    cuts: dict[str, messages.CutState] = field(default_factory=dict)
    off: str = ""
    closed: messages.Closed | None = None
    live: dict[str, Live] = field(default_factory=dict)
    stored: dict[str, int] = field(default_factory=dict)
    gaps: set[str] = field(default_factory=set)
    """Traces of which readings were dropped on the way; the file has them."""
    lost: bool = False
    """Whether the recorder died in this run: nothing more is heard of it."""
    alone: str = ""
    """What became of a cut that was asked for after that."""
    doubts: dict[str, str] = field(default_factory=dict)
    """Why what a trace, or a meter, reads is not believed, in a few words, as it was last told."""
    left_doubts: dict[str, str] = field(default_factory=dict)
    """What was doubted as the run's file ended, by trace: nobody judges its readings any more, and hands go in."""
    dial_back: str = ""
    """The sentence that asks for the dial, from when it is asked after off until somebody has said that it is down."""
    early: set[str] = field(default_factory=set)
    """Stages that were left before their dwell was over."""
    idle_set: set[str] = field(default_factory=set)
    """Traces whose idle is marked as set."""
    again: GoingBack | None = None
    """What this run goes on from with short dwells; None where it begins afresh."""
    foretold: dict[str, Foretold] = field(default_factory=dict)
    """Where each trace is heading, as far as is known: kept by `forecasts.py`, told by no recorder."""
    taking: str = ""
    """The spot that the walking meter is reading just now; empty where none is."""
    told: set[str] = field(default_factory=set)
    """Which prompts a person has answered yes, by kind: told, not seen."""

    @property
    def state(self) -> State:
        """Where the stage machine stands."""
        return State(self.stage.state) if self.stage is not None else State.STANDING

    @property
    def is_live(self) -> bool:
        """Whether the unit may be on."""
        return self.phase is Phase.LIVE

    @property
    def is_open(self) -> bool:
        """Whether a session is open."""
        return self.phase in (Phase.ARMED, Phase.LIVE, Phase.OFF)

    @property
    def file_ended(self) -> bool:
        """Whether the run's file takes no more readings; some still come before it is told as closed."""
        return bool(self.moments) and self.moments[-1].kind == "closed"

    @property
    def spot(self) -> str:
        """The spot that is asked for at this stage; empty where none is left."""
        return self.stage.spot if self.stage is not None else ""

    @property
    def was_cut(self) -> bool:
        """Whether it went off in any other way than through its last stage or by the off key."""
        return self.trip is not None or self.off_why in ("trip", "cut")

    @property
    def seen_off(self) -> bool:
        """Whether what each off-switch switches is seen off, by whichever; one that was not heard of was not."""
        if self.plan is not None and not self.plan.run_kind.feeds and not self.was_cut:
            return True  # Nothing was switched on, so that there is nothing to be seen off.
        switches = len(self.bench.off_switch) if self.bench is not None else 0
        heard = bool(self.cuts) and len(self.cuts) >= switches
        return heard and all(cut.seen_off or cut.outcome == "verified off" for cut in self.cuts.values())

    @property
    def failed(self) -> tuple[str, ...]:
        """Off-switches that did not act when they were asked, whether it is seen off by now or not."""
        return tuple(path for path, cut in self.cuts.items() if cut.outcome in FAILED)

    @property
    def still_doubted(self) -> bool:
        """Whether it went off and nothing has shown that yet: the unit may still be on."""
        return self.phase is Phase.OFF and not self.seen_off

    def doubt_in(self, name: str, job: str = "") -> str:
        """Why the newest reading of a trace, or of the meter on that job, is not believed; empty where it is."""
        left = self.left_doubts.get(name, "")
        if left:
            return left if left == UNPROVEN else f"{NOT_KNOWN}{left}"
        live = self.live.get(name)
        told = self.doubts.get(name) or self.doubts.get(job, "")
        if live is None or live.outcome == Outcome.OK:
            return told if told == UNPROVEN else ""
        return told if told.startswith(live.outcome) else live.outcome

    # --- what is heard ---------------------------------------------------------------------------

    def hear(self, message: messages.Message, now: float) -> None:
        """Take what the recorder says; `now` is the window's clock."""
        if isinstance(message, messages.Readings):
            self._readings(message, now)
        elif isinstance(message, messages.Stage):
            self._stage(message)
        elif isinstance(message, messages.Prompt):
            self._prompt(message)
        elif isinstance(message, messages.Withdrawn):
            if self.prompt is not None and self.prompt.prompt == message.prompt:
                self.prompt = None
        elif isinstance(message, messages.Holds):
            self._holds(message.what)
        elif isinstance(message, messages.Event):
            self._event(message)
        elif isinstance(message, messages.Trip):
            self.trip = message
        elif isinstance(message, messages.CutState):
            self._cut(message)
        elif isinstance(message, messages.Stored):
            self.stored.update(message.traces)
        elif isinstance(message, messages.Closed):
            self.closed = message
            self._keep_doubts()
            self.phase = Phase.CLOSED
            self.prompt = None

    def _prompt(self, message: messages.Prompt) -> None:
        self.prompt = message
        if message.kind == "set_dial" and message.data.get("after"):
            self.dial_back = message.text

    def _holds(self, what: str) -> None:
        """Go back to what holds; what is shown was answered for, and is never more than that."""
        phase = HOLDS.get(what)
        if phase is None or _RANK.get(self.phase, 0) <= _RANK[phase]:
            return
        self.phase, self.prompt, self.proofs = phase, None, []
        if phase is not Phase.CHECKED:
            self.plan, self.plan_text, self.reference, self.sentences = None, "", None, []

    def armed(self, session: str) -> None:
        """A session file is open: its readings are numbered from one again."""
        self.session = session
        self.left_doubts.clear()
        if self.phase is not Phase.OFF:
            self.phase = Phase.ARMED
        for live in self.live.values():
            live.seq = 0
        self.gaps.clear()

    def _readings(self, message: messages.Readings, now: float) -> None:
        for batch in message.batches:
            live = self.live.setdefault(batch.trace, Live(batch.trace))
            for row in batch.rows:
                if not live.take(row, now) and self.is_open:
                    self.gaps.add(batch.trace)
            if self.off_at is not None or self.falling_since is not None:
                fall = self.falls.setdefault(batch.trace, deque(maxlen=_KEPT))
                fall.extend((t / SECOND, value) for _, t, value, _ in batch.rows if value is not None)

    def _stage(self, message: messages.Stage) -> None:
        before = self.stage
        self.stage = message
        state = State(message.state)
        self._falls(state, message.t / SECOND)
        if state in LIVE and self.phase in (Phase.ARMED, Phase.LIVE):
            self.phase = Phase.LIVE
        came = state in BEING_THERE
        known = self.marks[-1][1] if self.marks else ""
        if self.is_live and came and message.name != known and before is not None:
            self.marks.append((message.t / SECOND, message.name))
            self.early.discard(message.name)

    def _falls(self, state: State, t: float) -> None:
        """What stands in the reservoirs is looked at from the moment it goes off for a change."""
        if state is State.GOING_OFF and self.falling_since is None:
            self.falling_since = t
        elif state in BEING_THERE and self.falling_since is not None:
            self.falling_since = None
            self.falls.clear()

    def _event(self, message: messages.Event) -> None:
        moment = Moment(message.t / SECOND, message.kind, message.text)
        self.moments.append(moment)
        if "doubt" in message.data:
            self.doubts[str(message.data.get("trace") or message.data.get("job", ""))] = str(
                message.data["doubt"]
            )
        self._touched(message, moment.t)
        if message.kind == "off":
            self.falls.clear()
            self.off_at = moment.t
            self.off_reason = message.text
            self.off_why = str(message.data.get("why", ""))
            self.phase = Phase.OFF
            self.prompt = None
        elif message.kind == "discharge":
            said = str(message.data.get("charge", "")), str(message.data.get("said", ""))
            self.discharge[str(message.data.get("trace", ""))] = said
        elif message.kind == "closed":
            self.off = str(message.data.get("off", ""))
            self._keep_doubts()
        elif message.kind == "told" and message.data.get("done"):
            self.told.add(str(message.data.get("prompt", "")))
            if message.data.get("prompt") == "switch_off" and self.off_at is not None:
                self.told_off = True
            if message.data.get("prompt") == "set_dial":
                self.dial_back = ""
        elif message.kind == "idle":
            name = {str(message.data["trace"])}
            self.idle_set = self.idle_set | name if message.data["set"] else self.idle_set - name
        elif message.kind == "limit":
            self._set_limit(message.data)
        elif message.kind == "asked" and message.data.get("early") and self.stage is not None:
            self.early.add(self.marks[-1][1] if self.marks else self.stage.name)

    def _touched(self, message: messages.Event, t: float) -> None:
        """From when a figure may be settled: since the unit is on, and since a trimmer was turned."""
        if switched_on(message.kind, message.data):
            self.on_at = t
        elif message.kind == "trimmer":
            self.touched_at = t

    def _set_limit(self, data: Mapping[str, Any]) -> None:
        """A limit was set to another figure: the plan at hand has it from here on."""
        plan, at = self.plan, int(data["limit"])
        if plan is not None and at < len(plan.limit):
            limit = with_figure(plan.limit[at], str(data["field"]), float(data["new"]))
            self.plan = replace(plan, limit=(*plan.limit[:at], limit, *plan.limit[at + 1 :]))

    def _keep_doubts(self) -> None:
        """Nothing judges what is read from here on: what is doubted now stays so.

        But for what a meter says of itself with every reading, and what was of one reading alone.
        """
        for trace in self.plan.trace if self.plan is not None else ():
            live, told = self.live.get(trace.name), self.doubts.get(trace.name, "")
            believed = live is None or live.outcome == Outcome.OK
            if told == UNPROVEN or (told and not believed and not told.startswith(_PASSING)):
                self.left_doubts.setdefault(trace.name, told)

    def _cut(self, message: messages.CutState) -> None:
        self.cuts[message.path] = message
        if self.seen_off and self.prompt is not None and self.prompt.kind == "switch_off":
            self.prompt = None

    def answered(self) -> None:
        """The prompt that is shown was answered."""
        self.prompt = None


def still_said(view: RunView) -> dict[ColdCheck, ColdAnswer]:
    """What was said of the cold checks before a run, as far as it holds for the next one of the same unit.

    Nothing after a trip, which may have broken anything; and whatever was on is charged, until somebody looks anew.
    """
    if view.cold is None or view.trip is not None:
        return {}
    charged = (ColdCheck.DISCHARGED,) if view.off_at is not None else ()
    return {check: answer for check, answer in view.cold.said.items() if check not in charged}
