"""A plan in a few lines, and a guard that is fed as a recorder would feed it, with time in seconds."""

from collections.abc import Callable, Iterable, Mapping

import pytest

from benchlog import textfile
from benchlog.domain.guard import Broken, Guard
from benchlog.domain.offproof import OffProof
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action
from benchlog.domain.reading import Outcome
from benchlog.domain.reference import Reference
from benchlog.domain.stages import Order, Stages, State
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput

HALL = "moved_by='hand', chain=['wall', 'lamp'], mains=230.0, lamp_watts=100.0, ratio=0.196, diode_drop=0.65"
"""A variable transformer by hand and a lamp; the rails stand at 44.4 V on the full 230 V."""
DIRECT = "moved_by='hand', chain=['wall'], mains=230.0, ratio=0.196, diode_drop=0.65"
BENCH_SUPPLY = "moved_by='program', chain=['bench supply'], supply='bench supply'"

MAINS = "name='mains', role='mains'"
LAMP = "name='lamp', role='lamp'"
PLUS = "name='+B', role='rail'"
MINUS = "name='-B', role='rail', sign=-1"
OFFSET = "name='offset L', role='offset'"
IDLE = "name='idle L', role='idle'"
SINK = "name='sink L', role='sink', critical=false"
STATE = "name='state', role='supply_state', meter='bench supply', channel='1'"
VOLTS = "name='volts', role='supply_volts', meter='bench supply', channel='1'"
AMPS = "name='amps', role='supply_amps', meter='bench supply', channel='1'"

TWO_STAGES = (
    "name='40 %', fraction=0.4, dwell=10.0",
    "name='100 %', fraction=1.0, dwell=20.0",
)

Value = float | Outcome | Callable[[float], float] | None
"""What a meter says: a number, one that changes with plan time in seconds, a bad outcome, or nothing."""


def plan_text(
    *traces: str, limits: Iterable[str] = (), source: str = HALL, stages: Iterable[str] = TWO_STAGES
) -> str:
    """Give a plan file whose tables are written inline."""

    def tables(name: str, bodies: Iterable[str]) -> str:
        return f"{name} = [{', '.join(f'{{ {body} }}' for body in bodies)}]\n"

    return (
        f'file = "benchlog plan 1"\nname = "a plan"\ncold = []\nsource = {{ {source} }}\n'
        + tables("trace", traces)
        + tables("limit", limits)
        + tables("stage", stages)
    )


def plan_of(
    *traces: str, limits: Iterable[str] = (), source: str = HALL, stages: Iterable[str] = TWO_STAGES
) -> Plan:
    """Give the plan itself."""
    text = plan_text(*traces, limits=limits, source=source, stages=stages)
    return textfile.parse(text, "plan.toml", Plan)


def ns(seconds: float) -> int:
    """Seconds as nanoseconds."""
    return round(seconds * SECOND)


class Watched:
    """An armed guard with meters on it; `rate` is how much faster plan time runs than wire time."""

    def __init__(
        self,
        plan: Plan,
        *,
        rate: float = 1.0,
        pace: Mapping[str, float] | None = None,
        reference: Reference | None = None,
    ) -> None:
        self.guard = Guard(plan, reference)
        self.guard.armed = True
        self.now = 0.0
        self.rate = rate
        self.found: list[Broken] = []
        self.moves: list[str] = []
        self.proof: OffProof | None = None
        self._pace = dict(pace or {})
        self._due: dict[str, float] = {}

    @property
    def t(self) -> int:
        """Plan time now."""
        return ns(self.now)

    @property
    def wire(self) -> int:
        """Wire time now."""
        return ns(self.now / self.rate)

    @property
    def trips(self) -> list[str]:
        """The sentences of what tripped so far."""
        return [broken.text for broken in self.found if broken.action is Action.TRIP]

    @property
    def warnings(self) -> list[str]:
        """The sentences of what warned so far."""
        return [broken.text for broken in self.found if broken.action is Action.WARN]

    def on(self, volts: float) -> None:
        """Set the source and switch on: somebody said so, and it is still moving."""
        feed = self.guard.feed
        feed.begin_move(volts, self.t)
        feed.told_set()
        feed.switch(True, self.t)

    def at_rest(self, volts: float) -> None:
        """Be on, with a source that has just come to rest."""
        self.on(volts)
        self.guard.feed.settle(self.t)

    def give(self, name: str, value: float | Outcome | None) -> tuple[Broken, ...]:
        """One reading, here and now."""
        if isinstance(value, Outcome):
            found = self.guard.reading(name, None, value, self.t, self.wire)
        else:
            found = self.guard.reading(name, value, Outcome.OK, self.t, self.wire)
            if self.proof is not None and value is not None:
                self.proof.reading(name, value, self.t)
        self.found.extend(found)
        return found

    def play(self, seconds: float, meters: Mapping[str, Value]) -> list[Broken]:
        """Let time go by: each meter at its own pace (a quarter second), the watch each 50 ms.

        Gives what was broken meanwhile. A meter at None says nothing.
        """
        before = len(self.found)
        start = self.now
        for step in range(1, round(seconds / 0.05) + 1):
            self.now = start + 0.05 * step
            for name, value in meters.items():
                if value is not None and self.now >= self._due.get(name, 0.0) - 1e-9:
                    self._due[name] = self.now + self._pace.get(name, 0.25)
                    self.give(name, value(self.now) if callable(value) else value)
            self.found.extend(self.guard.silent(self.t, self.wire))
            moved = self.guard.look_at_source(self.t)
            if moved is not None:
                self.moves.append(moved)
            self.tick()
        return self.found[before:]

    def tick(self) -> None:
        """What else looks at the clock."""

    def ask_for_off(self) -> OffProof:
        """Ask for off here and now, as a cut or a drill does, and collect what proves it."""
        self.proof = OffProof(self.guard, self.t, self.rate)
        return self.proof


class PoweredUp(Watched):
    """The same with its stage machine; orders are kept in `orders` and answered by the test."""

    def __init__(self, plan: Plan, *, by_hand: bool = False, rate: float = 1.0) -> None:
        super().__init__(plan, rate=rate)
        self.stages = Stages(self.guard, by_hand=by_hand)
        self.orders: list[Order] = []

    def tick(self) -> None:
        """Let the stage machine look at the clock."""
        self.orders.extend(self.stages.tick(self.t))

    def do(self, orders: list[Order]) -> list[str]:
        """Take what an act ordered; the orders in a word each."""
        self.orders.extend(orders)
        return [order.kind or order.what for order in orders]

    def next(self) -> list[str]:
        """Ask for the next stage."""
        return self.do(self.stages.next(self.t))

    def set(self, done: bool = True) -> list[str]:
        """Answer that the source was set, or was not."""
        return self.do(self.stages.was_set(done, self.t))

    def switched_on(self, done: bool = True) -> list[str]:
        """Answer that the unit was switched on, or was not."""
        return self.do(self.stages.was_switched_on(done, self.t))

    def begin(self) -> None:
        """Go to the lowest stage and switch on there."""
        self.next()
        self.set()
        self.switched_on()


def ramp(start: float, since: float, each_second: float) -> Callable[[float], float]:
    """Give a value that leaves `start` at `since` seconds and changes by so much a second from then on."""
    return lambda t: start + each_second * max(t - since, 0.0)


def state(run: PoweredUp) -> State:
    """Where a run stands now; a function, since every act may change it."""
    return run.stages.state


def refused(run: PoweredUp, act: str) -> str:
    """The problem that an act is refused with; the state does not change."""
    before = (run.stages.state, run.stages.index)
    acts = {
        "next": lambda: run.stages.next(run.t),
        "back": lambda: run.stages.back(run.t),
        "hold": run.stages.hold,
        "resume": run.stages.resume,
        "off": run.stages.off,
        "close": run.stages.close,
    }
    with pytest.raises(BadInput) as caught:
        acts[act]()
    assert caught.value.place == act
    assert (run.stages.state, run.stages.index) == before
    return caught.value.problem
