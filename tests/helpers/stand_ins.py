"""Small stand-ins for what a recorder works with: an instrument, an off-switch, a bell, an outbox."""

import queue
import threading
from typing import TypeVar

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import BenchlogError, LinkError
from benchlog.recorder.clock import wire_now
from benchlog.recorder.cut import Ask, Done, Evidence
from benchlog.recorder.messages import Event, Message

M = TypeVar("M", bound=Message)

HANG = 30.0
VERIFIED = Finding(CutOutcome.VERIFIED, "it is off")
STILL_LIVE = Finding(CutOutcome.STILL_LIVE, "STILL LIVE: 44 V")
REFUSED = Finding(CutOutcome.REFUSED, "the supply refuses")
UNKNOWN = Finding(CutOutcome.UNKNOWN, "off not proven")


def says(finding: Finding) -> Evidence:
    """Traces that say this of every off-switch."""
    return lambda _acts=0.0: finding


def volts(value: float | None, at: int | None = None, **more: object) -> Reading:
    """A reading of some volts, of this moment; an overload where there is no number."""
    outcome = Outcome.OVERLOAD if value is None else Outcome.OK
    values: dict[str, object] = {"function": Function.VOLTS_DC, "raw": str(value)} | more
    return Reading(outcome, value, at=wire_now() if at is None else at, **values)  # type: ignore[arg-type]


class Instrument:
    """Gives what it is told to say, in order; an error is raised and `hangs` holds its thread."""

    def __init__(self, job: str = "lamp", identity: str = "a meter") -> None:
        self.job = job
        self.identity = identity
        self.says: queue.SimpleQueue[Reading | LinkError | None] = queue.SimpleQueue()
        self.hangs = threading.Event()
        self.goes_on = threading.Event()
        self.threads: set[int] = set()
        self.steps = 0
        self.closed = 0

    def step(self, wait: float) -> list[Reading]:
        """One slice: what comes within it."""
        self.threads.add(threading.get_ident())
        self.steps += 1
        if self.hangs.is_set():
            self.goes_on.wait(HANG)
        try:
            said = self.says.get(timeout=wait)
        except queue.Empty:
            return []
        if isinstance(said, LinkError):
            raise said
        return [] if said is None else [said]

    def wake(self) -> None:
        """End the slice."""
        self.says.put(None)

    def close(self) -> None:
        """Note it."""
        self.closed += 1


class Switch:
    """An off-switch that finds what `finds` says, or what the traces do where that is None."""

    def __init__(self, name: str = "mains relay", kind: str = "relay", *, automatic: bool = True) -> None:
        self.name, self.kind, self.automatic = name, kind, automatic
        self.did: list[str] = []
        self.finds: Finding | None = UNKNOWN
        self.patient = HANG
        self.fault = ""
        self.broken: BenchlogError | None = None
        self.asks: tuple[str, ...] = ()
        self.hangs = False
        """Whether reading back hangs until `goes_on`."""
        self.goes_on = threading.Event()
        self.holds_on = False
        """Whether switching on takes until `on` is called."""
        self._done: list[Done] = []

    def prove(self, ask: Ask) -> str:
        """Ask what is to be asked; every answer must be yes."""
        self.did.append("prove")
        if self.broken is not None:
            raise self.broken
        for kind in self.asks:
            if not ask(kind, f"{kind}?", {}):
                raise BenchlogError(self.name, f"{kind} was denied")
        return f"{self.name} works"

    def switch_on(self, done: Done) -> None:
        """Be on, at once or when `on` is called."""
        self.did.append("on")
        self._done.append(done)
        if not self.holds_on:
            self.on()

    def on(self) -> None:
        """Tell whoever wanted it on."""
        self._done.pop()(self.fault)

    def fire(self) -> None:
        """Note it."""
        self.did.append("off")

    def confirm(self, evidence: Evidence) -> Finding:
        """Give what is to be found."""
        if self.hangs:
            self.did.append("hang")
            self.goes_on.wait(HANG)
        return evidence() if self.finds is None else self.finds

    def patience(self, rate: float) -> float:
        """As long as the test wants."""
        return self.patient

    def close(self) -> None:
        """Note it."""
        self.did.append("close")


class Bell:
    """Stands for the alarm."""

    def __init__(self) -> None:
        self.rung: list[str] = []

    def sound(self) -> None:
        """Begin."""
        self.rung.append("sound")

    def quiet(self) -> None:
        """End."""
        self.rung.append("quiet")

    @property
    def sounding(self) -> bool:
        """Whether it sounds now."""
        return self.rung[-1:] == ["sound"]


class Outbox:
    """Takes what is published."""

    def __init__(self) -> None:
        self.sent: list[Message] = []

    def send(self, message: Message) -> None:
        """Keep it."""
        self.sent.append(message)

    def of(self, kind: type[M]) -> list[M]:
        """What was sent of one kind."""
        return [message for message in self.sent if isinstance(message, kind)]

    def events(self, *kinds: str) -> list[Event]:
        """The events of these kinds, or all."""
        return [event for event in self.of(Event) if not kinds or event.kind in kinds]
