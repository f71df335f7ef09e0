"""Guard and stage machine under any mixture of readings, silence, acts and answers.

What a run does with them is done here as well: orders become open questions, a trip becomes a cut. What
must never be is told by a second, simpler book-keeping of the same readings.
"""

import math
from collections.abc import Callable

import pytest
from helpers.trace_book import BAD, CEILINGS, Book
from helpers.watched import DIRECT, LAMP, MAINS, MINUS, PLUS, SINK, plan_of
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from benchlog.domain.guard import Broken, Guard
from benchlog.domain.plan_limit import Action
from benchlog.domain.reading import Outcome
from benchlog.domain.stages import LIVE, Order, Stages, State
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput

LIMITS = [
    *(
        f"trace='{name}', kind='high', value={bound}, persistence={persistence}"
        for name, (bound, persistence) in CEILINGS.items()
    ),
    "trace='lamp', kind='high', of_source=0.6, after_on=3.0, persistence=1.0, why='it draws too much'",
    "trace='+B', kind='rail_low'",
    "trace='-B', kind='rail_high'",
    "trace='+B', kind='apart', partner='-B'",
    "trace='-B', kind='polarity'",
    "trace='sink L', kind='high', value=60.0, action='warn'",
]
STAGES = [
    "name='20 %', fraction=0.2, dwell=2.0",
    "name='60 %', fraction=0.6, dwell=2.0, wait=[{trace='+B', as_expected=true, seconds=1.0}]",
    "name='80 %', fraction=0.8, dwell=3.0, wait=[{trace='lamp', steady=0.1, seconds=2.0}]",
    "name='100 %', fraction=1.0, dwell=1.0",
]
LAMP_PART = 0.1
"""What a healthy unit leaves on the lamp, as a part of the applied voltage."""
ACTS = ["next", "back", "hold", "resume", "off", "close"]
FRACTIONS = [0.2, 0.6, 0.8, 1.0]
"""Where the source stands at each stage."""
MAY_GO_BACK = {State.READY, State.DWELLING, State.MOVING, State.HELD}


class Run(RuleBasedStateMachine):
    """A bench, somebody at it, and everything that may happen."""

    def __init__(self) -> None:
        super().__init__()
        self.now = 0.0
        self.trips: list[Broken] = []
        self.open: Order | None = None
        self.was_off = True
        self.at = 0
        self.rested = 0.0
        self.rests_since: float | None = None

    @initialize(
        metered=st.booleans(),
        lamp=st.booleans(),
        rate=st.sampled_from([1.0, 10.0]),
        stages=st.integers(0, len(STAGES)),
    )
    def begin(self, metered: bool, lamp: bool, rate: float, stages: int) -> None:
        """One of the benches, with or without a mains meter (then the hand switches), already so far up."""
        traces = [LAMP, PLUS, MINUS, SINK] + ([MAINS] if metered else [])
        source = {} if lamp else {"source": DIRECT}
        self.guard = Guard(plan_of(*traces, limits=LIMITS, stages=STAGES, **source))
        self.stages = Stages(self.guard, by_hand=not metered)
        self.guard.armed = True
        self.rate = rate
        self.books = {name: Book(name) for name in self.guard.traces}
        self.trips = []
        self.open = None
        self.was_off = True
        self.at = 0
        self.moved()
        self.go_well(1.0, None)
        for _ in range(stages):
            self.climb()

    @precondition(lambda self: self.stages.state in {State.TAIL, State.CLOSED})
    @rule(metered=st.booleans(), lamp=st.booleans(), stages=st.integers(1, len(STAGES)))
    def begin_again(self, metered: bool, lamp: bool, stages: int) -> None:
        """A run that is over is followed by a new one."""
        self.begin(metered, lamp, self.rate, stages)

    # --- as a run does it -----------------------------------------------------------------------

    @property
    def t(self) -> int:
        """Plan time."""
        return round(self.now * SECOND)

    @property
    def wire(self) -> int:
        """Wire time."""
        return round(self.now * SECOND / self.rate)

    def take(self, name: str, value: float | None, outcome: Outcome) -> None:
        """A reading arrives."""
        trace = self.guard.traces[name]
        before, quiet = trace.value, set(self.guard.quiet)
        if self.guard.armed:
            self.books[name].take(value, outcome, self.t, self.wire)
        self.heed(self.guard.reading(name, value, outcome, self.t, self.wire))
        good = outcome is Outcome.OK and value is not None and math.isfinite(value)
        assert trace.value == (value if good else before), "what is no value leaves none"
        if not good and outcome is not Outcome.OVERLOAD:
            assert self.guard.quiet == quiet, "what is no value ends no silence"

    def heed(self, found: tuple[Broken, ...]) -> None:
        """What is broken is told; what trips is cut."""
        assert self.guard.armed or not found, "nothing is broken after the cut"
        for broken in found:
            assert broken.text
            if broken.action is Action.TRIP:
                assert not self.trips, "nothing trips twice"
                assert broken.trace in self.guard.traces
                assert broken.limit
                assert self.books[broken.trace].explains(broken, self.wire), f"{broken.text}: for no reason"
                self.trips.append(broken)
                self.cut()

    def cut(self) -> None:
        """Everything is switched off."""
        self.guard.armed = False
        self.guard.feed.switch(False, self.t)
        self.stages.went_off(self.t)
        self.open = None
        self.was_off = True
        self.rests_since = None

    def moved(self) -> None:
        """The source is about to be set: what was dwelt by then counts no more."""
        self.rested = 0.0
        self.rests_since = None

    def count_rest(self) -> None:
        """Add up the time between looks at the clock at both of which the unit was on and its source at rest."""
        feed = self.guard.feed
        if feed.moving or feed.on_since is None:
            self.rests_since = None
            return
        if self.rests_since is not None:
            self.rested += self.now - self.rests_since
        self.rests_since = self.now

    def watch(self) -> None:
        """The clock is looked at."""
        on = self.guard.feed.on_since is not None
        self.heed(self.guard.silent(self.t, self.wire))
        if self.guard.armed and on:
            for name, book in self.books.items():
                critical = self.guard.traces[name].plan.critical
                assert not critical or book.silent(self.wire) < 1e-6, f"{name} is lost"
        self.guard.look_at_source(self.t)
        self.count_rest()
        self.carry_out(self.stages.tick(self.t))

    def carry_out(self, orders: list[Order]) -> None:
        """Orders become open questions."""
        for order in orders:
            if order.what == "switch_off":
                self.cut()
            elif order.what == "close":
                assert self.stages.state is State.CLOSED
            else:
                self.open = order

    # --- what may happen ------------------------------------------------------------------------

    @rule(
        name=st.sampled_from(["+B", "-B", "lamp", "mains", "sink L"]),
        reading=st.one_of(
            st.sampled_from([0.0, 0.02, -2.0, 5.5, 20.0, 44.0, 49.9, 50.1, -51.0, 130.0, 201.0, 230.0]),
            st.floats(-300, 300),
            st.sampled_from([math.nan, math.inf, -math.inf]),
            st.just(Outcome.OVERLOAD),
            st.sampled_from(BAD),
        ),
        times=st.integers(1, 5),
        apart=st.one_of(st.floats(0.01, 0.6), st.just(0.0)),
    )
    def read(self, name: str, reading: float | Outcome, times: int, apart: float) -> None:
        """A meter says something odd, once or some times, while the others say nothing."""
        if name not in self.guard.traces:
            return
        for _ in range(times):
            self.now += apart
            if isinstance(reading, Outcome):
                self.take(name, None, reading)
            else:
                self.take(name, reading, Outcome.OK)
            self.watch()

    @precondition(lambda self: self.guard.armed)
    @rule(
        name=st.sampled_from(["+B", "-B", "lamp"]),
        reading=st.sampled_from([20.0, 51.0, -51.0, 201.0, Outcome.OVERLOAD]),
        times=st.integers(2, 4),
        apart=st.sampled_from([0.05, 0.3, 0.6]),
    )
    def insist(self, name: str, reading: float | Outcome, times: int, apart: float) -> None:
        """What is beyond a limit, or of the wrong sign, stays so for some readings."""
        self.read(name, reading, times, apart)

    @precondition(lambda self: self.guard.armed)
    @rule(
        name=st.sampled_from(sorted(CEILINGS)),
        reading=st.sampled_from([51.0, 201.0]),
        none=st.sampled_from([math.nan, math.inf, -math.inf, *BAD]),
        times=st.integers(1, 4),
    )
    def read_one_odd(self, name: str, reading: float, none: float | Outcome, times: int) -> None:
        """One reading is beyond a limit, and none of those after it is a value."""
        self.read(name, reading, 1, 0.3)
        self.read(name, none, times, 0.6)

    @precondition(lambda self: self.stages.state in MAY_GO_BACK and self.stages.index > 0)
    @rule()
    def go_back(self) -> None:
        """Somebody asks for the stage below, and is told where to set the source for it."""
        to = FRACTIONS[self.stages.index - 1]
        self.act("back")
        assert self.open is not None
        assert self.open.data["fraction"] == to

    @rule(seconds=st.one_of(st.floats(0.0, 4.9), st.sampled_from([0.05, 1.0, 2.1, 5.1, 31.0, 70.0, 7200.0])))
    def say_nothing(self, seconds: float) -> None:
        """Time goes by, or leaps, and no meter speaks."""
        self.now += seconds
        self.watch()

    @rule(seconds=st.floats(0.5, 12.0), look=st.sampled_from([0.25, 0.75, 3.0, 20.0]))
    def look_seldom(self, seconds: float, look: float) -> None:
        """All is well, but the clock is looked at coarsely, or not at all, as by a process that gets no turn."""
        end, next_look = self.now + seconds, self.now + look
        while self.now < end:
            self.now += 0.25
            for name, value in self.healthy().items():
                if name in self.guard.traces:
                    self.take(name, value, Outcome.OK)
            if self.now >= next_look:
                self.watch()
                next_look = self.now + look

    @rule(
        name=st.sampled_from(["+B", "-B", "lamp"]),
        beyond=st.sampled_from([0.0, 60.0, -60.0, 500.0]),
        outcome=st.sampled_from([Outcome.FELL, Outcome.STUCK, Outcome.FLASH, Outcome.CLIP]),
    )
    def doubt(self, name: str, beyond: float, outcome: Outcome) -> None:
        """A value that nobody quite believes: it mends nothing, and keeps no trace alive."""
        alive = self.guard.traces[name].good_wire
        self.now += 0.1
        self.take(name, beyond, outcome)
        assert self.guard.traces[name].good_wire == alive

    @rule(seconds=st.floats(0.5, 12.0), silent=st.sampled_from([None, None, None, "sink L", "+B", "lamp"]))
    def go_well(self, seconds: float, silent: str | None) -> None:
        """All meters, or all but one, show a healthy unit."""
        end = self.now + seconds
        while self.now < end:
            self.now += 0.25
            for name, value in self.healthy().items():
                if name in self.guard.traces and name != silent:
                    self.take(name, value, Outcome.OK)
            self.watch()

    def healthy(self) -> dict[str, float]:
        """What the meters of a healthy unit show at the present setting."""
        feed = self.guard.feed
        applied = feed.told if feed.on_since is not None else 0.0
        lamp = LAMP_PART * applied if self.guard.plan.source.lamp_watts else 0.0
        rail = max(0.196 * (applied - lamp) - 0.65, 0.0)
        return {"mains": applied, "lamp": lamp, "+B": rail, "-B": -rail, "sink L": 25.0}

    @precondition(lambda self: self.stages.state is not State.CLOSED)
    @rule(act=st.sampled_from(ACTS))
    def act(self, act: str) -> None:
        """Somebody asks for something, whether it fits or not."""
        stages, before = self.stages, (self.stages.state, self.stages.index)
        acts: dict[str, Callable[[], list[Order]]] = {
            "next": lambda: stages.next(self.t),
            "back": lambda: stages.back(self.t),
            "hold": stages.hold,
            "resume": stages.resume,
            "off": stages.off,
            "close": stages.close,
        }
        try:
            orders = acts[act]()
        except BadInput as error:
            assert error.problem
            assert (stages.state, stages.index) == before
            return
        change = stages.index - before[1]
        allowed = {"next": (0, 1), "back": (-1,)}.get(act, (0,))
        assert change in allowed, "next goes up by one, back down by one, nothing else goes anywhere"
        self.at = stages.index
        if stages.state is State.SETTING:
            self.moved()
        self.carry_out(orders)

    @precondition(lambda self: self.open is not None)
    @rule(yes=st.sampled_from([True, True, True, False]))
    def answer(self, yes: bool) -> None:
        """Somebody, or a supply, says that it was done or was not."""
        order, self.open = self.open, None
        assert order is not None
        before = self.stages.index
        if order.kind == "set_dial":
            self.carry_out(self.stages.was_set(yes, self.t))
        elif order.kind == "switch_off":
            self.carry_out(self.stages.was_drilled(yes, self.t))
            self.was_off = self.was_off or yes
        else:
            lowest = self.stages.index == 0
            self.carry_out(self.stages.was_switched_on(yes, self.t))
            if yes:
                assert lowest, "a unit that is off is switched on at the lowest stage alone"
                self.was_off = False
        change = self.stages.index - before
        assert change == 0 or (abs(change) == 1 and not yes), (
            "no answer leads on; one that it failed leads back"
        )
        self.at = self.stages.index
        self.rests_since = None

    @precondition(lambda self: self.stages.state is not State.CLOSED)
    @rule()
    def climb(self) -> None:
        """All goes well, every question is answered with yes, until the stage after this one is offered."""
        asked = False
        for _ in range(12):
            if self.open is not None:
                self.answer(True)
            elif self.stages.state not in {State.STANDING, State.READY}:
                self.go_well(4.0, None)
            elif asked:
                return
            else:
                asked = True
                self.act("next")

    @rule(really=st.sampled_from([False, False, False, False, True]))
    def press_cut(self, really: bool) -> None:
        """The operator's cut."""
        if really:
            self.cut()

    @rule()
    def see_off(self) -> None:
        """The far end was seen off, or somebody says so at the wrong time."""
        self.stages.confirmed_off(self.t)

    # --- what must never be ---------------------------------------------------------------------

    @invariant()
    def never_live_with_a_broken_ceiling(self) -> None:
        """A ceiling broken for its persistence, by number or overload, has tripped."""
        for name, book in self.books.items():
            if book.broken:
                assert self.trips or not self.guard.armed, f"{name} is broken and nothing tripped"

    @invariant()
    def never_live_after_a_trip(self) -> None:
        """A trip has a reason, and nothing is live any more."""
        assert all(broken.text.strip() for broken in self.trips)
        if self.trips:
            assert self.stages.state not in LIVE
            assert self.guard.tripped is self.trips[0]

    @invariant()
    def closed_only_after_off(self) -> None:
        """What is closed, or in its tail, is off."""
        if self.stages.state in {State.TAIL, State.CLOSED, State.STANDING}:
            assert self.was_off
            assert self.guard.feed.on_since is None

    @invariant()
    def never_off_the_ladder(self) -> None:
        """Nothing but a request, or the answer that it failed, changes the stage."""
        assert self.stages.index == self.at
        assert 0 <= self.at < len(STAGES)

    @invariant()
    def dwell_counts_only_at_rest(self) -> None:
        """No more is dwelt than the source has rested with the unit on."""
        dwelt = self.stages.stage.dwell - self.stages.dwell_left
        assert dwelt <= self.rested + 1e-6, (dwelt, self.rested)

    @invariant()
    def offered_only_when_everything_holds(self) -> None:
        """READY means drilled and dwelt."""
        if self.stages.state is State.READY:
            assert self.stages.drilled
            assert self.stages.dwell_left == 0.0
        assert self.stages.reached <= len(STAGES) - 1


TestRun = Run.TestCase
TestRun.settings = settings(max_examples=40, stateful_step_count=40)


class Many(Run):
    """The same as often as a night allows."""


TestManyRuns = pytest.mark.long(Many.TestCase)
TestManyRuns.settings = settings(max_examples=2000, stateful_step_count=60)
