"""Runs one power-up through a recorder, for a person at a terminal or a simulated one.

The recorder decides; this only carries prompts to the person, asks for the next stage when it is
offered, and listens until the session is closed. Nothing here waits for an answer but the proof and the
arming, which come before anything is live: acts are sent, and what is refused comes back as a message.
"""

import contextlib
import queue
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from benchlog.domain.cold_checks import ColdAnswer
from benchlog.domain.stages import BEING_THERE, State
from benchlog.errors import WATCH, BadInput, Fault, Gone, LinkError
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store.ids import new_id

QUIET_SECONDS = 60.0
PROOF_SECONDS = 300.0
"""How long a proof may wait for a person without a word from the recorder."""


class Controls(Protocol):
    """What a person can do to a run: from any thread, and without waiting for anything."""

    def act(self, what: str, stage: int) -> None:
        """Do one of the recorder's acts, at the stage that was last offered (-1: none yet)."""

    def answer(self, prompt: int, yes: bool) -> None:
        """Answer what was asked under that number."""

    def tell(self, request: messages.Request) -> None:
        """Tell what was seen, read or touched at the live bench; whatever is refused of it comes back."""

    def cut(self) -> None:
        """The operator's cut."""

    def leave(self) -> None:
        """Nobody is there any more: off if it may be on, and never on from now on."""


class Person(Protocol):
    """Who stands at the bench. No method of it may wait for that person."""

    def attend(self, run: Controls) -> None:
        """The run begins; `run` is what can be done to it."""

    def asked(self, prompt: messages.Prompt) -> None:
        """Something is to be done or perceived; the answer goes to the controls, whenever it comes."""

    def never_mind(self) -> None:
        """Whatever was asked so far is void: the unit is to go off."""

    def stands(self, stage: messages.Stage) -> None:
        """Where the run stands now, with what it waits for."""

    def goes_on(self, stage: messages.Stage) -> str:
        """What to do now that the next stage is offered (`ready`), or could not be set (`standing`, `held`).

        `next`, `off`, `close`, or nothing yet.
        """

    def refused(self, error: BadInput) -> None:
        """What this person asked for is not possible now."""


@dataclass(slots=True)
class Course:
    """What happened in a run, as it was heard.

    Attributes:
        off: how the off-switches stand together at the close, as the recorder sums it up.
        told_off: whether a person said in so many words that the unit is off.
        reservoirs: how each reservoir that a trace shows stood at the close.
        failed: the off-switches that did not act when they were asked, whether the unit was seen off or not.
    """

    stages: list[str] = field(default_factory=list)
    trip: messages.Trip | None = None
    cuts: list[messages.CutState] = field(default_factory=list)
    off: str = ""
    told_off: bool = False
    reservoirs: dict[str, dict[str, Any]] = field(default_factory=dict)
    failed: list[str] = field(default_factory=list)
    closed: messages.Closed | None = None


class Ear:
    """Hears what a recorder publishes and hands it to whoever waits; give its `hear` to the client."""

    def __init__(self, show: Callable[[messages.Message], None]) -> None:
        self._show = show
        self._heard: queue.SimpleQueue[messages.Message] = queue.SimpleQueue()

    def hear(self, message: messages.Message) -> None:
        """Called by the client for each message."""
        self._show(message)
        self._heard.put(message)

    def wait(self, seconds: float = QUIET_SECONDS) -> messages.Message:
        """The next message; Gone where the recorder has said nothing at all for that long."""
        try:
            return self._heard.get(timeout=seconds)
        except queue.Empty:
            raise Gone(WATCH, f"has said nothing for {seconds:.0f} s", "look at its log") from None


Then = Callable[[BadInput], None]
"""What becomes of an act that is refused."""


class Conductor:
    """One power-up: prove, arm, up the ladder, off; `course` tells how it went."""

    def __init__(self, recorder: Recorder, ear: Ear, person: Person) -> None:
        self._recorder = recorder
        self._ear = ear
        self._person = person
        self.course = Course()
        self._reached = -1
        self._set_once = False
        self._lock = threading.Lock()
        # Under the lock, as acts come from the person's thread as well.
        self._acts: dict[int, tuple[str, Then]] = {}
        self._told: set[int] = set()
        self._begun = False
        self._left = False

    def run(
        self,
        folder: str,
        *,
        unit: str = "",
        visit: str = "",
        again: str = "",
        cause: str = "",
        idle_set: Sequence[str] = (),
        cold: Sequence[ColdAnswer] = (),
        alone: bool = False,
    ) -> Course:
        """Prove, arm and go up until the session is closed. BadInput where the recorder refuses.

        `again` is the file of the run that tripped, to be climbed back to with short dwells; `cause`: what tripped it.
        `idle_set` are the idles that were set in earlier runs of the visit, `cold` how its cold checks stand, `alone`
        that nobody stays with it.
        """
        self._person.attend(self)
        self._ask(messages.Prove(id=0))
        if self._left:
            problem = "has ended, so that nobody can hold, answer or switch off"
            raise BadInput("standard input", problem, "run it at a terminal, or give --yes")
        arm = messages.Arm(
            id=0,
            session=new_id(),
            folder=folder,
            unit=unit,
            visit=visit,
            again=again,
            cause=cause,
            idle_set=list(idle_set),
            cold=list(cold),
            alone=alone,
        )
        self._ask(arm)
        with self._lock:
            self._begun = not self._left
            self._post("next" if self._begun else "close", -1, _withdrawn)
        while self.course.closed is None:
            try:
                self._hear(self._ear.wait())
            except KeyboardInterrupt:
                self.cut()
        return self.course

    # --- what the person does -------------------------------------------------------------------

    def act(self, what: str, stage: int = -1) -> None:
        """What the person asks for; where it is refused, they are told."""
        with self._lock:
            self._post(what, stage, self._person.refused)

    def tell(self, request: messages.Request) -> None:
        """What the person saw, read or has a hand on; where it is refused, they are told."""
        with self._lock, contextlib.suppress(LinkError):
            self._told.add(self._recorder.post(request))

    def answer(self, prompt: int, yes: bool) -> None:
        """The person's answer; one to a prompt that was taken back meanwhile is refused, and that is all."""
        # A recorder that is dead has been cut for already, and what to do was said then. So below.
        with contextlib.suppress(LinkError):
            self._recorder.post(messages.Answer(id=0, prompt=prompt, yes=yes))

    def cut(self) -> None:
        """The operator's cut."""
        with contextlib.suppress(LinkError):
            self._recorder.post(messages.Cut(id=0))

    def leave(self) -> None:
        """Nobody is there any more: off in good order, cut where that is refused; what is not on stays off."""
        with self._lock:
            self._left = True
            if self._begun:
                self._post("off", -1, lambda _: self.cut())

    def _post(self, what: str, stage: int, refused: Then) -> None:
        """Under the lock: send an act, and remember what becomes of its refusal."""
        with contextlib.suppress(LinkError):
            number = self._recorder.post(messages.Act(id=0, what=what, stage=stage))
            self._acts[number] = (what, refused)

    # --- what the recorder says -----------------------------------------------------------------

    def _ask(self, request: messages.Request) -> None:
        """Ask, and hear everything that is said until it is answered. BadInput with what is refused."""
        number = self._recorder.post(request)
        while True:
            message = self._ear.wait(PROOF_SECONDS)
            if isinstance(message, messages.Done) and message.id == number:
                return
            if isinstance(message, messages.Refused) and message.id == number:
                raise _refusal(message)
            self._hear(message)

    def _hear(self, message: messages.Message) -> None:
        course = self.course
        if isinstance(message, messages.Prompt):
            self._person.asked(message)
        elif isinstance(message, messages.Stage):
            self._on_stage(message)
        elif isinstance(message, messages.Done | messages.Refused):
            self._on_answer(message)
        elif isinstance(message, messages.Trip):
            course.trip = message
        elif isinstance(message, messages.CutState):
            course.cuts.append(message)
        elif isinstance(message, messages.Event) and message.kind == "off":
            self._person.never_mind()
        elif isinstance(message, messages.Event) and message.kind == "closed":
            course.off = message.data.get("off", "")
            course.told_off = message.data.get("told_off", False)
            course.reservoirs = message.data.get("reservoirs", {})
            course.failed = message.data.get("failed", [])
        elif isinstance(message, messages.Notice):
            if message.place == WATCH and not self._recorder.alive:
                raise Gone(message.place, message.problem, message.fix)
        elif isinstance(message, messages.Closed):
            course.closed = message

    def _on_stage(self, stage: messages.Stage) -> None:
        if stage.state in BEING_THERE and stage.index > self._reached:
            self._reached = stage.index
            self.course.stages.append(stage.name)
        self._set_once = self._set_once or stage.state != State.STANDING
        waits = stage.state in (State.READY, State.HELD) or (stage.state == State.STANDING and self._set_once)
        self._person.stands(stage)
        what = self._person.goes_on(stage) if waits else ""
        if what:
            with self._lock:
                self._post(what, stage.index, _withdrawn)

    def _on_answer(self, message: messages.Done | messages.Refused) -> None:
        with self._lock:
            told = message.id in self._told
            self._told.discard(message.id)
            what, refused = self._acts.pop(message.id, ("", _withdrawn))
        if isinstance(message, messages.Done):
            return
        error = _refusal(message)
        if told:
            # Whatever it names, a spot or a trace, nothing of the run hangs on it.
            self._person.refused(error)
        elif what:
            # The recorder names the act where the run does not allow it, or is over: `act` where there is none.
            if error.place not in (what, "act"):
                raise error
            refused(error)


def _withdrawn(_: BadInput) -> None:
    """What was offered is offered no more: go on listening."""


def _refusal(message: messages.Refused) -> BadInput:
    return BadInput.of(Fault(*fault) for fault in message.faults)
