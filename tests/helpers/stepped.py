"""A whole power-up under a clock that is stepped: the far end's model, meters on it, guard, trust and stages.

No process, no wire and no waiting: minutes at the bench are a second here. The person does what is asked.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

from helpers.watched import PoweredUp

from benchlog import resources
from benchlog.domain.offproof import CutOutcome
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.seen import Verdict
from benchlog.domain.stages import Order, State
from benchlog.domain.trust import Trust, believed
from benchlog.instruments.decode import decoder
from benchlog.instruments.profile import find_profile
from benchlog.simbench import truth
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.board import Board
from benchlog.textfile import parse

STEP = 0.05
"""Plan seconds of one step of model and meters."""
WATCH = 0.2


@dataclass
class Meddled:
    """What is done to one meter, from a moment on: its value is passed through `change`, its line through `line`."""

    change: Callable[[float], float] = lambda value: value
    line: Callable[[str], str] = lambda text: text
    silent: bool = False


@dataclass
class Kind:
    """A meter's display: every how many seconds, of how many counts, and how noisy."""

    every: float
    counts: int
    """0 for a bench meter that sends eight digits."""
    fraction: float
    floor: float
    finest: int = 3
    """Decimals of its lowest range, in volts."""


BENCH_DC = Kind(0.25, 0, 2e-5, 3e-5)
BENCH_AC = Kind(0.25, 0, 3e-4, 4e-3)
HANDHELD = Kind(1 / 3, 6000, 0.0004, 0.0)
CHEAP = Kind(1 / 3, 4000, 0.0004, 0.0)
MILLIVOLTS = Kind(1 / 3, 4000, 0.0004, 0.0, finest=4)


class Display:
    """A display that changes its range by itself, with the flash of the range before, or OL, while it does."""

    def __init__(self, counts: int, chance: random.Random, flashes: float = 0.0, finest: int = 3) -> None:
        self._counts = counts
        self._chance = chance
        self._flashes = flashes
        self._finest = finest
        self._decimals = finest
        self._flashed = False

    def show(self, value: float, unit: str) -> str:
        """The line it writes."""
        decimals = self._finest
        top = self._counts / 10.0**decimals
        while abs(value) >= top and decimals > 0:
            decimals -= 1
            top *= 10.0
        before, self._decimals = self._decimals, decimals
        if abs(value) >= top:
            return f"{'-' if value < 0 else '+'}OL {unit}"
        flashes = decimals != before and not self._flashed and self._chance.random() < self._flashes
        self._flashed = flashes
        if flashes:
            if decimals < before and self._chance.random() < 0.5:
                return f"{'-' if value < 0 else '+'}OL {unit}"
            value *= 10.0 ** (before - decimals)
        return f"{value:+.{decimals}f} {unit}"


@dataclass
class Stepped:
    """One example, one seed, one kind of meter, played by a person who does as asked."""

    example: str
    seed: int = 1
    fault: str = "healthy"
    kinds: dict[str, Kind] = field(default_factory=dict)
    every: Kind | None = None
    flashes: float = 0.0
    dropouts: float = 0.0
    """The part of the readings that never arrive."""
    dwell: float = 1.0
    """Dwells of the plan times this."""
    remade: Callable[[Plan], Plan] = lambda plan: plan
    """What is made of the example's plan."""
    step: float = STEP
    """Plan seconds of one step; what does not change quickly may be stepped coarsely."""
    watching: float = WATCH
    """Plan seconds between two looks at the clock."""

    def __post_init__(self) -> None:
        text = resources.path("examples", self.example, "plan.toml").read_text(encoding="utf-8")
        plan = self.remade(parse(text, "plan.toml", Plan))
        stages = tuple(replace(stage, dwell=self.dwell * stage.dwell) for stage in plan.stage)
        self.plan = replace(plan, stage=stages)
        self.chance = random.Random(self.seed)
        self.truth = truth.load(self.example, self.fault)
        far = self.truth
        self.model: Amplifier | Board
        if far.model == "board":
            self.model = Board(far.plus, far.minus, lambda *_, **__: None)
        else:
            self.model = Amplifier(far.unit, far.left, far.right, self.chance, lambda *_, **__: None)
            self.model.switched_on = False
        self.points = {one.job: one.point for one in far.instruments}
        profile = find_profile("ascii-handheld")
        self.decorated = decoder(profile.reply)
        self.plain = decoder(find_profile("scpi-multimeter").reply)
        self.run = PoweredUp(self.plan, by_hand=self.example == "by-hand")
        self.trust = Trust(self.run.guard)
        self.displays: dict[str, Display] = {}
        self.due = {trace.name: self.chance.random() * 0.3 for trace in self.plan.trace}
        self.meddled: dict[str, Meddled] = {}
        self.said: list[tuple[float, str, Verdict]] = []
        self.doubted: list[tuple[float, str, Outcome]] = []
        self.asked: list[tuple[float, Callable[[], None]]] = []
        self.ready_at: dict[int, float] = {}
        self.watch = 0.0
        self.taken = 0

    # --- the person -----------------------------------------------------------------------------

    def begin(self) -> None:
        """Arm, when every meter has been read, and go to the first stage."""
        self.live(2.0)
        for name, verdict in self.trust.begin().items():
            self.said.append((self.run.now, name, verdict))
        self._obey(self.run.stages.next(self.run.t))

    def climb(self, most: float = 2000.0, until: int | None = None) -> bool:
        """Go up as soon as it is offered; whether stage `until` (else the last) was ready."""
        last = len(self.plan.stage) - 1 if until is None else until
        while self.run.now < most and not self.trips:
            self.live(0.5)
            stages = self.run.stages
            if stages.state is State.READY:
                if stages.index >= last:
                    return True
                self._obey(stages.next(self.run.t))
        return False

    def _obey(self, orders: list[Order]) -> None:
        for order in orders:
            after = self.chance.uniform(1.0, 5.0)
            if order.kind == "set_dial":
                self._turn(order.data["fraction"], after)
            elif order.what == "set_supply":
                self.asked.append((self.run.now + 0.2, partial(self._set_supply, order)))
            elif order.what == "switch_on" or order.kind == "switch_on":
                self.asked.append((self.run.now + 0.3 * after, self._switch_on))
            elif order.what == "pause" or order.kind == "fit_lamp":
                change = self._put_off if order.what == "pause" else partial(self._fit, order.data["watts"])
                self.asked.append((self.run.now + after, change))
            elif order.kind == "switch_off" and not order.data.get("change"):
                self.asked.append((self.run.now + 0.3 * after, self._drill))

    def _turn(self, fraction: float, after: float) -> None:
        model = self.model
        assert isinstance(model, Amplifier)
        start, now, turning = model.dial, self.run.now, min(0.8, after)
        for step in range(1, 21):
            dial = start + (fraction - start) * step / 20

            def move(dial: float = dial) -> None:
                model.dial = dial

            self.asked.append((now + after - turning + turning * step / 20, move))
        done = now + after + self.chance.uniform(0.0, 2.0)
        self.asked.append((done, lambda: self._obey(self.run.stages.was_set(True, self.run.t))))

    def _set_supply(self, order: Order) -> None:
        assert isinstance(self.model, Board)
        for output in self.model.outputs:
            output.set_volts, output.limit = order.data["volts"], order.data["limit"]
        self._obey(self.run.stages.was_set(True, self.run.t))

    def _switch_on(self) -> None:
        if isinstance(self.model, Amplifier):
            self.model.switched_on = True
        else:
            for output in self.model.outputs:
                output.on = True
        told = self.run.now + self.chance.uniform(0.0, 1.0)
        self.asked.append((told, lambda: self._obey(self.run.stages.was_switched_on(True, self.run.t))))

    def _drill(self) -> None:
        assert isinstance(self.model, Amplifier)
        self.model.switched_on = False
        seen = self.run.now + 4.0
        self.asked.append((seen, lambda: self._obey(self.run.stages.was_drilled(True, self.run.t))))

    def _put_off(self) -> None:
        assert isinstance(self.model, Amplifier)
        self.model.switched_on = False
        stages, seen = self.run.stages, self.run.now + 4.0
        self.asked.append((seen, lambda: self._obey(stages.was_put_off(CutOutcome.VERIFIED, self.run.t))))

    def _fit(self, watts: float) -> None:
        assert isinstance(self.model, Amplifier)
        self.model.fit_lamp(watts)
        self._obey(self.run.stages.was_changed(True, self.run.t))

    # --- time -----------------------------------------------------------------------------------

    def live(self, seconds: float) -> None:
        """Let so many plan seconds pass."""
        run, model, due = self.run, self.model, self.due
        end = run.now + seconds
        while run.now < end - 1e-9:
            run.now += self.step
            model.step(self.step)
            while self.asked and min(self.asked, key=lambda one: one[0])[0] <= run.now:
                first = min(self.asked, key=lambda one: one[0])
                self.asked.remove(first)
                first[1]()
            for trace in self.plan.trace:
                if run.now >= due[trace.name]:
                    self._read(trace)
            if run.now < self.watch:
                continue
            self.watch = run.now + self.watching
            run.found.extend(run.guard.silent(run.t, run.wire))
            if run.guard.look_at_source(run.t) == "on" and run.stages.state is State.SWITCHING_ON:
                self._obey(run.stages.seen_on(run.t))
            self._obey(run.stages.tick(run.t))

    def _read(self, trace: TracePlan) -> None:
        kind = self._kind(trace)
        self.due[trace.name] += kind.every * self.chance.uniform(0.95, 1.05)
        done = self.meddled.get(trace.name)
        if done is not None and done.silent:
            return
        if self.dropouts and self.chance.random() < self.dropouts:
            return
        reading = self._made(trace, kind, done or Meddled())
        self.taken += 1
        reading = believed(reading)
        run = self.run
        if reading.function is not trace.measures:
            verdict: Verdict | None = self.trust.wrong_function(trace.name, reading)
            outcome, value = Outcome.WRONG_FUNCTION, None
        else:
            verdict = self.trust.take(trace.name, reading, run.t)
            outcome, value = reading.outcome, reading.value
            if verdict is not None and verdict.outcome is not outcome:
                outcome = verdict.outcome
                value = value if verdict.judged else None
        if verdict is not None and verdict.text:
            self.said.append((run.now, trace.name, verdict))
        if outcome is not Outcome.OK:
            self.doubted.append((run.now, trace.name, outcome))
        run.found.extend(run.guard.reading(trace.name, value, outcome, run.t, run.wire))

    def _kind(self, trace: TracePlan) -> Kind:
        if trace.name in self.kinds:
            return self.kinds[trace.name]
        if self.every is not None and trace.role in (Role.MAINS, Role.LAMP, Role.RAIL):
            return self.every
        return BENCH_AC if trace.measures is Function.VOLTS_AC else BENCH_DC

    def _made(self, trace: TracePlan, kind: Kind, done: Meddled) -> Reading:
        function = trace.measures
        if trace.role in (Role.SUPPLY_VOLTS, Role.SUPPLY_AMPS, Role.SUPPLY_STATE):
            return self._of_supply(trace, function, done)
        what = {Function.VOLTS_AC: "ac", Function.TEMPERATURE: "celsius"}.get(function, "dc")
        true = done.change(self.model.measure(self.points[trace.name], what))
        value = true * (1.0 + self.chance.gauss(0.0, kind.fraction)) + self.chance.gauss(0.0, kind.floor)
        if not kind.counts or function is Function.TEMPERATURE:
            return self.plain(done.line(f"{value:+.8E}"), function, self.run.wire)
        unit = "V AC" if function is Function.VOLTS_AC else "V DC"
        display = self.displays.get(trace.name)
        if display is None:
            display = Display(kind.counts, self.chance, self.flashes, kind.finest)
            self.displays[trace.name] = display
        return self.decorated(done.line(display.show(value, unit)), function, self.run.wire)

    def _of_supply(self, trace: TracePlan, function: Function, done: Meddled) -> Reading:
        assert isinstance(self.model, Board)
        output = self.model.outputs[int(trace.channel) - 1]
        if trace.role is Role.SUPPLY_STATE:
            state = 0.0 if not output.on else 2.0 if output.limiting else 1.0
            return Reading(Outcome.OK, state, function, self.run.wire, "state", channel=trace.channel)
        true = output.volts if trace.role is Role.SUPPLY_VOLTS else output.amps
        return self.plain(done.line(f"{done.change(true):+.3f}"), function, self.run.wire)

    # --- what came of it ------------------------------------------------------------------------

    @property
    def trips(self) -> list[str]:
        """The sentences of what tripped."""
        return self.run.trips

    def news(self, name: str) -> list[str]:
        """What was said of one trace, after what is unproven from the start."""
        return [verdict.text for _, one, verdict in self.said if one == name]


def reading(volts: float) -> Meddled:
    """A meter that reads that, whatever is at its leads."""
    return Meddled(change=lambda _: volts)


FALLEN = reading(0.0)


def frozen() -> Meddled:
    """A meter that shows what it showed at the moment, though its last digits still dance."""
    held: dict[str, float] = {}
    return Meddled(change=lambda value: held.setdefault("value", value))


def climbed(example: str, stage: int, *, every: Kind | None = None, fault: str = "healthy") -> Stepped:
    """An example that has come to rest at a stage."""
    run = Stepped(example, 5, fault, every=every, dwell=0.4)
    run.begin()
    assert run.climb(until=stage)
    run.live(1.0)
    return run


def awaited(run: Stepped) -> dict[str, str]:
    """What is waited for, and how far it is."""
    return {one.what: one.progress for one in run.run.stages.awaited(run.run.t)}
