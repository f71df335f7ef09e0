"""A run without instruments: meters that read what the test says, stand-ins for off-switches, time in steps."""

import threading
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from helpers.stand_ins import VERIFIED, Bell, Outbox, Switch
from helpers.until import until
from helpers.watched import HALL, LAMP, MAINS, PLUS, plan_text

from benchlog.domain.plan import Plan
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND, Clock, wire_now
from benchlog.recorder.cut import Done
from benchlog.recorder.means import Means
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.prompts import Prompts
from benchlog.recorder.run import Run
from benchlog.store.ids import new_id
from benchlog.textfile import parse

T = TypeVar("T")

RATE = 100.0
"""Plan seconds in a real one."""
LOOK = SECOND // 2
"""Plan nanoseconds from one look to the next."""
LAMP_HIGH = "trace='lamp', kind='high', value=100.0, why='the unit draws too much'"
RAIL_WARNS = "trace='+B', kind='high', value=46.0, action='warn'"
STAGES = ("name='40 %', fraction=0.4, dwell=5.0", "name='100 %', fraction=1.0, dwell=5.0")


class Paced(Clock):
    """Plan time that goes by with the looks of a test, however long a busy machine takes from one to the next."""

    def __init__(self) -> None:
        super().__init__(RATE)
        self._last = (0, wire_now())

    def step(self) -> None:
        """Another look begins."""
        self._last = (self._last[0] + LOOK, wire_now())

    def of(self, wire: int) -> int:
        """Plan time at a moment of wire time: slower the longer a look takes, and never into the next one."""
        t, since = self._last
        gone = int((wire - since) * self.rate)
        return t + (gone * LOOK // (gone + LOOK) if gone > 0 else gone)


class Rig:
    """One run on a bench of stand-ins; `meters` holds what each trace reads, None for nothing at all."""

    def __init__(
        self,
        folder: Path,
        *switches: Switch,
        traces: Iterable[str] = (MAINS, LAMP, PLUS),
        limits: Iterable[str] = (LAMP_HIGH, RAIL_WARNS),
        source: str = HALL,
        stages: Iterable[str] = STAGES,
        tail: float = 1.0,
        head: str = "cold = []",
    ) -> None:
        text = plan_text(*traces, limits=limits, source=source, stages=stages).replace("cold = []", head)
        self.text = text.replace('name = "a plan"\n', f'name = "a plan"\ntail = {tail}\n')
        self.plan = parse(self.text, "plan.toml", Plan)
        self.folder = folder
        self.to_discharge = False
        self.clock = Paced()
        self.outbox = Outbox()
        self.prompts = Prompts(self.outbox.send)
        self.bell = Bell()
        self.outlet = Outlet(self.outbox.send)
        self.switches = list(switches) or [Switch()]
        self.settings: list[tuple[float, float, float]] = []
        self.setting: list[Done] = []
        """Who waits for the supply to be set."""
        self.against: BadInput | None = None
        """What speaks against turning anything on or up."""
        means = Means(self.clock, self.outlet, self.prompts, self.bell, may_rise=self._may_rise)
        self.run = Run(self.plan, self.text, [*self.switches], means, self._set_supply)
        self.meters: dict[str, float | Outcome | None] = {trace.name: 0.0 for trace in self.plan.trace}

    # --- the bench ------------------------------------------------------------------------------

    def read(self, name: str, at: int | None = None) -> None:
        """One reading of a trace, here and now."""
        said = self.meters[name]
        if said is None:
            return
        trace = self.plan.find(name)
        outcome, value = (said, None) if isinstance(said, Outcome) else (Outcome.OK, said)
        when = wire_now() if at is None else at
        self.run.reading(
            trace.job, Reading(outcome, value, trace.measures, when, f"{said}", channel=trace.channel)
        )

    def until(self, condition: Callable[[], T], what: str = "the condition") -> T:
        """Let meters read and the watch look until that holds."""

        def look() -> T:
            self.clock.step()
            for name in self.meters:
                self.read(name)
            self.run.watch()
            return condition()

        return until(look, what)

    def silence(self, name: str, seconds: float) -> None:
        """Have that trace said nothing for so long."""
        self.meters[name] = None
        self.run.guard.traces[name].good_wire -= int(seconds * SECOND)

    # --- the person -----------------------------------------------------------------------------

    def prompt(self, kind: str) -> int:
        """The prompt of that kind that is open, waited for."""

        def found() -> list[int]:
            asked = [prompt.prompt for prompt in self.outbox.of(messages.Prompt) if prompt.kind == kind]
            return [number for number in asked if number in self.prompts._open]

        return self.until(found, f"a prompt to {kind}")[-1]

    def answer(self, kind: str, yes: bool = True) -> None:
        """Answer it."""
        self.prompts.answer(self.prompt(kind), yes)

    def arm(self) -> Path:
        """Prove and arm: the session's file."""
        self.run.prove()
        for name in self.meters:
            self.read(name)
        return self.run.arm(self.request(), bench="bench text", profiles={"a": "b"}, program="benchlog 0")

    def request(self) -> messages.Arm:
        """What asks for a session in the rig's folder."""
        return messages.Arm(
            id=1,
            session=new_id(),
            folder=str(self.folder),
            unit="u",
            visit="v",
            to_discharge=self.to_discharge,
        )

    def go_up(self, mains: float) -> None:
        """The next stage, set and, where it is off, switched on; until its dwell begins."""
        self.run.act("next")
        self.answer("set_dial")
        if self.run.stages.by_hand and self.run.guard.feed.on_since is None:
            self.answer("switch_on")
        self.show(mains=mains, lamp=0.2 * mains, rail=0.196 * (mains - 0.2 * mains) - 0.65)
        self.until_state(State.DWELLING, State.READY)

    def until_state(self, *states: State) -> None:
        """Wait for one of these states."""
        self.until(lambda: self.state in states, f"the state {' or '.join(states)}")

    def show(self, mains: float, lamp: float, rail: float) -> None:
        """What the meters of a healthy unit read, those that there are."""
        told = {"mains": mains, "lamp": lamp, "+B": rail}
        self.meters |= {name: value for name, value in told.items() if name in self.meters}

    def goes_off(self) -> None:
        """The unit is off, and the meters show it."""
        self.show(mains=0.0, lamp=0.0, rail=0.0)
        for switch in self.switches:
            switch.finds = VERIFIED

    # --- what came of it ------------------------------------------------------------------------

    @property
    def state(self) -> State:
        """Where the run stands now."""
        return self.run.stages.state

    def fired(self) -> bool:
        """Whether every off-switch was."""
        return all("off" in switch.did for switch in self.switches)

    def close(self) -> messages.Closed | None:
        """Close the run, whatever hangs."""
        for switch in self.switches:
            switch.goes_on.set()
        return self.run.close()

    def _may_rise(self) -> None:
        if self.against is not None:
            raise self.against

    def _set_supply(self, volts: float, limit: float, protection: float, done: Done) -> None:
        self.settings.append((volts, limit, protection))
        self.setting.append(done)


def in_thread(what: Callable[[], object]) -> threading.Thread:
    """Do it in a thread of its own."""
    thread = threading.Thread(target=what, daemon=True)
    thread.start()
    return thread


def live(rig: Rig) -> Path:
    """On at the first stage: the session's file."""
    path = rig.arm()
    rig.go_up(92.0)
    return path


def break_lamp(rig: Rig) -> None:
    """Two readings of a lamp that is far too bright, as a short makes it."""
    at = wire_now()
    for number in range(2):
        rig.run.reading("lamp", Reading(Outcome.OK, 180.0, Function.VOLTS_AC, at + number, "+180"))


def off_event(rig: Rig) -> messages.Event:
    """The one event that says it was switched off."""
    (event,) = rig.outbox.events("off")
    return event
