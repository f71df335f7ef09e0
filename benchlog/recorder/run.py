"""One guarded run: guard, stages, off-switches and session, from the loading of a plan to its close.

Readings come from the instruments' threads, requests from the client's, the clock from the watch
thread. Everything that decides is done under one lock without I/O; orders are carried out after it
is let go. A cut is fired before anything else is looked at.
"""

import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

from benchlog.domain.falling import falls_on_purpose
from benchlog.domain.guard import Broken, Guard
from benchlog.domain.lamp_fitted import LampFitted
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Action
from benchlog.domain.plan_trace import Role
from benchlog.domain.reading import Function, Reading
from benchlog.domain.reference import Reference
from benchlog.domain.stages import Order, Stages, State
from benchlog.errors import BadInput, Fault, StoreError
from benchlog.recorder import messages
from benchlog.recorder.again import Again, going_on, read_before
from benchlog.recorder.arming import demanded, open_session, tell_demanded, without_reading
from benchlog.recorder.clock import SECOND, utc_now, wire_now
from benchlog.recorder.cut import OffSwitch
from benchlog.recorder.dial import Dial
from benchlog.recorder.draining import Draining
from benchlog.recorder.intake import Intake
from benchlog.recorder.means import Means
from benchlog.recorder.orders import Orders, SetSupply
from benchlog.recorder.outlet import trace_rows
from benchlog.recorder.stage_news import StageNews
from benchlog.recorder.switchoff import SwitchOff
from benchlog.recorder.teller import Teller
from benchlog.recorder.touches import Touches
from benchlog.recorder.writer import Writer
from benchlog.store.append import SessionWriter
from benchlog.store.records import AnchorRow, Ending

ANCHOR_EVERY = 60


class Run:
    """A plan on an open bench."""

    def __init__(
        self,
        plan: Plan,
        plan_text: str,
        switches: list[OffSwitch],
        means: Means,
        set_supply: SetSupply,
        reference: Reference | None = None,
    ) -> None:
        self.plan = plan
        self.plan_text = plan_text
        self.guard = Guard(plan, reference)
        self.stages = Stages(self.guard, by_hand=all(not switch.automatic for switch in switches))
        self.guard.falls_on_purpose = partial(falls_on_purpose, self.stages)
        self.lock = threading.Lock()
        self.closed = threading.Event()
        self.session: SessionWriter | None = None
        self.off = SwitchOff(switches, self.guard, self.lock, means, self._is_off)
        self.dial = Dial(self.guard, means)
        self.draining = Draining(self.guard, means)
        self._lamp = LampFitted(self.guard)
        self._intake = Intake(
            self.guard, self.lock, self.off, self.dial, self.draining, means, broke=self._broke
        )
        self.places = self._intake.places
        self.touches = Touches(plan, self.stages, self._intake, self.lock, means)
        self._news = StageNews(self.stages, self._intake.clips, self.lock, means)
        self._means = means
        self.teller = Teller(self.stages, self._news, means)
        self._orders = Orders(self, self._news, means, set_supply)
        self._ending: tuple[str, str] | None = None
        self._was_on = False
        self._cut_before = 0  # How often it was cut before it was armed.
        self._anchored = 0

    def reading(self, job: str, reading: Reading) -> bool:
        """Take one reading; false where the plan does not know the meter."""
        return self._intake.reading(job, reading)

    # --- time -----------------------------------------------------------------------------------

    def watch(self) -> None:
        """Look at the clock: silence, moves, dwell, drill, tail. Called every 50 ms."""
        wire = wire_now()
        t = self._means.clock.of(wire)
        with self.lock:
            back, lost = self._intake.clips.look(t, wire)
            broken = (*lost, *self.guard.silent(t, wire))
            moved = self.guard.look_at_source(t)
            falls = self.guard.falls_on_purpose()
            if falls and moved == "restless":
                moved = None  # It waits for a person, however long that takes.
            self.stages.held_open = self.draining.look(t, falls=falls)
            orders = self.stages.tick(t)
            lamp = self._lamp.look(self.stages, t)
            if self.stages.state is State.DRILL:
                self.off.drill(t)
            drilled = self.off.look_at_drill(t)
            if drilled is not None:
                orders = [*orders, *self.stages.was_drilled(drilled[0], t)]
        if broken:
            self._broke(broken)
        for name, verdict in back.items():
            self._intake.tell_clip(t, name, verdict)
        if moved:
            self._source_did(moved, t)
        if lamp:
            self._means.outlet.event(t, "warn", lamp, trace=self.plan.of_role(Role.LAMP)[0].name)
        if drilled is not None:
            seen, took = drilled
            text = f"drill: off seen after {took:.1f} s" if seen else "drill: the unit was not seen to go off"
            self._means.outlet.event(t, "drill", text, seen=seen, seconds=took)
        self.draining.tell(t)
        self._orders.carry_out(orders)
        self._news.say(t)
        if self.session is not None and t - self._anchored > ANCHOR_EVERY * SECOND:
            self._anchor(t, wire)

    def _source_did(self, what: str, t: int) -> None:
        """The meters show that the source was turned, came to rest, will not, or is on."""
        outlet = self._means.outlet
        if what == "restless":
            outlet.event(t, "warn", "the source will not come to rest; its limits are judged all the same")
        elif what != "on":
            outlet.event(t, what, f"the source is {what}")
        else:
            self._came_on(t)

    def _came_on(self, t: int) -> None:
        """The meters show that the unit is on; since they were looked at it may have been told, or cut."""
        with self.lock:
            known = self.guard.feed.on_since is not None or self._ending is not None
            asked = self.stages.state is State.SWITCHING_ON
            orders = self.stages.seen_on(t) if asked and not known else []
        if asked and not known:
            self._means.outlet.event(t, "on", "seen: the unit is on")
            self._orders.carry_out(orders)
        elif not known:
            self.trip("the unit", "the unit is on, and nobody was asked to switch it on")

    def _anchor(self, t: int, wire: int) -> None:
        self._anchored = t
        writer = self._means.outlet.writer
        if writer is not None:
            writer.add_anchor(AnchorRow(self._means.session_time(t), wire, utc_now()))

    # --- the operator ---------------------------------------------------------------------------

    def prove(self) -> list[str]:
        """Prove every off-switch; one sentence each. LinkError or BadInput where one fails."""
        if self.stages.live:
            raise BadInput("prove", "the unit is on", "switch off first")
        if self.stages.state is not State.STANDING:
            raise BadInput("prove", "this run is over", "load the plan again for a new run")
        if not self.plan.run_kind.feeds:
            # A proof pulls relays in, and hands are inside.
            return ["Nothing is switched on in this run: no off-switch is tried."]
        return self.dial.prove(self.off)

    def check_take(self, job: str, function: Function) -> None:
        """BadInput where a part must not be taken so: by a meter that watches, or in ohms beside a live unit."""
        if job in self.places.jobs:
            raise BadInput(
                "take", f"{job} watches the unit", "take parts with a meter that the plan leaves free"
            )
        if self.session is not None and function not in (Function.VOLTS_DC, Function.VOLTS_AC):
            raise BadInput(
                "take", f"{function} is not measured while a run is open", "take volts, or close it first"
            )

    def arm(self, request: messages.Arm, *, bench: str, profiles: dict[str, str], program: str) -> Path:
        """Open the session and stand before the first stage; its file."""
        cuts = self._cut_before
        self._check_armable(request)
        again = self._way_back(request)
        if self._cut_before != cuts:
            raise BadInput(
                "arm", "it was cut while its meters or an earlier run were looked at", "begin again"
            )
        rate = self._means.clock.rate
        session = open_session(
            request, self.plan, self.plan_text, bench=bench, profiles=profiles, rate=rate, program=program
        )
        self.session = session
        names = {row.id: row.name for row in trace_rows(self.plan)}
        outlet = self._means.outlet
        writer = Writer(session, names, outlet.send, self._cannot_write)
        with self.lock:
            t, wire = outlet.begin(self.plan, writer, self._means.clock.both)
            self.guard.armed = True
            self.draining.stay_open = request.to_discharge
            self.stages.alone = request.alone
            self.stages.dwell.back = again.back if again is not None else None
        self._anchor(t, wire)
        outlet.event(t, "armed", f"armed: {self.plan.name}")
        tell_demanded(outlet, t, self.plan, request)
        if (good := self.guard.reference) is not None:
            outlet.event(t, "reference", f"what it should read is from {good.called}", day=good.day)
        self.touches.idle_before(request.idle_set)
        if again is not None:
            outlet.event(t, "again", again.text, **again.data)
        for text in self.off.told:
            outlet.event(t, "told", text)
        self._intake.begin(t)
        return session.path

    def _way_back(self, request: messages.Arm) -> Again | None:
        """What this run goes on from, where it does; BadInput with why its dwells may not be short."""
        if not request.again:
            return None
        before = read_before(Path(request.again))
        with self.lock:
            return going_on(before, self.guard, request.unit, request.cause)

    def _check_armable(self, request: messages.Arm) -> None:
        if self.session is not None:
            raise BadInput("arm", "this run has been armed", "load the plan again for a new run")
        if lacking := demanded(self.plan, request, by_hand=self.off.by_hand_alone):
            raise BadInput.of(lacking)
        self._check_proven()
        faults = without_reading(self.guard)
        if faults:
            raise BadInput.of(faults)

    def _check_proven(self) -> None:
        if not self.plan.run_kind.feeds:
            return
        failed = self._means.left_up.failed
        faults = [
            Fault(name, why, "find its fault, then prove it anew" if name in failed else "prove it first")
            for name, why in self.off.unproven()
        ]
        if faults:
            raise BadInput.of(faults)

    def _check_may_rise(self) -> None:
        """BadInput where `next` must not turn anything on or up; at the last stage it switches off."""
        if self.stages.state is State.STANDING:
            self._check_proven()
        elif self.stages.index + 1 == len(self.plan.stage):
            return
        self._means.may_rise()

    def act(self, what: str, seen: int = -1) -> None:
        """Carry out `next`, `hold`, `resume`, `back`, `off` or `close`; BadInput where it does not fit.

        `seen` is the stage the operator was looking at: the run may have moved on since.
        """
        if self.session is None:
            raise BadInput(what, "nothing is armed", "arm the plan first")
        t = self._means.clock.now()
        stages = self.stages
        if what == "next":
            self._check_may_rise()
        acts: dict[str, Callable[[], list[Order]]] = {
            "next": lambda: stages.next(t),
            "back": lambda: stages.back(t),
            "hold": stages.hold,
            "resume": stages.resume,
            "off": stages.off,
            "close": stages.close,
        }
        if what not in acts:
            raise BadInput(what, "is nothing a run can do", f"use {', '.join(acts)}")
        with self.lock:
            if seen not in (-1, stages.index):
                raise BadInput(
                    what, "the run has moved on to another stage", "look at the screen, then ask again"
                )
            early = stages.dwell_left if what == "next" and stages.state is State.DWELLING else 0.0
            orders = acts[what]()
        text = f"{what}, {early:.0f} s before the end of the dwell" if early else what
        self._means.outlet.event(t, "asked", text, act=what, early=early)
        self._orders.carry_out(orders)
        self._news.say(t, now=True)

    def cut(self, reason: str, ending: str = Ending.STOPPED) -> None:
        """The operator's cut, or one for want of an operator; before a run is armed it ends a proof."""
        if self.session is None:
            self._cut_before += 1
            self.off.let_go()
            self._means.prompts.drop()
            return
        self.switch_off(ending, reason, "cut")

    def trip(self, place: str, text: str) -> None:
        """Off for something that no limit of the plan says, at `place`; told as a trip all the same."""
        wire = wire_now()
        t = self._means.clock.of(wire)
        if self.session is None:
            self.cut(text)
        else:
            broken = Broken(place, "beside the plan", Action.TRIP, lambda: text, None, None, t, wire)
            self.switch_off(Ending.TRIPPED, "", "trip", broken)

    def warn(self, text: str) -> None:
        """Tell and keep what should be known while it is live, but ends nothing."""
        self._means.outlet.event(self._means.clock.now(), "warn", text)

    def leave(self, reason: str, ending: str) -> None:
        """Nobody runs it any more: what may be on is cut; what was never on is closed at once."""
        self.draining.stay_open = False
        if self.session is not None and not self._never_on:
            self.cut(reason, ending)
            return
        orders: list[Order] = []
        with self.lock:
            armed = self.session is not None and self._ending is None
            if armed and self._never_on:
                self._ending = (ending, reason)
                self.guard.armed = False
                orders = self.stages.close()
        self.off.end()
        self._means.prompts.drop()
        self._orders.carry_out(orders)

    @property
    def proven_off(self) -> bool:
        """Whether the unit was never on, was seen off, or a person said so with no meter against it."""
        return self._ending is None or not self._was_on or self.stages.off_is_known

    @property
    def _never_on(self) -> bool:
        """Whether it stands before its first stage; one that is off for a change does not."""
        return self.stages.state is State.STANDING and not self.stages.asked_on

    @property
    def is_on(self) -> bool:
        """Whether the unit is known to be on."""
        return self.guard.feed.on_since is not None

    @property
    def ended(self) -> bool:
        """Whether it is over, but for its tail."""
        return self._ending is not None

    # --- limits and off -------------------------------------------------------------------------

    def _broke(self, found: tuple[Broken, ...]) -> None:
        for broken in found:
            if broken.action is Action.TRIP:
                self.switch_off(Ending.TRIPPED, "", "trip", broken)
            else:
                data = {"trace": broken.trace, "limit": broken.limit, "value": broken.value}
                self._means.outlet.event(broken.t, "warn", broken.text, **data)

    def switch_off(self, ending: str, reason: str, why: str, broken: Broken | None = None) -> None:
        """Switch off, by every way there is; only the first ending of a run counts.

        A discharge that begins has nothing to switch off: no hand is called, and nothing is tried.
        """
        tried = self.plan.run_kind.feeds or why != "off"
        if tried:
            self.off.fire()
        wire = wire_now()
        if broken is not None:
            reason = broken.text  # Put into words only now.
        means = self._means
        t = means.clock.of(wire)
        with self.lock:
            if self._ending is not None:
                return
            self._ending = (ending, reason)
            if tried:
                self.off.begin(t, called=broken is not None or self.off.by_hand)
            self.draining.begin(t)
            was_on = self._was_on = self.is_on or self.stages.live or self.stages.asked_on
            self.dial.went_off(was_on=was_on)
            self.guard.armed = False
            self.guard.feed.switch(False, t)
            self.stages.went_off(t)
        by_hand = tried and self.off.by_hand
        if broken is not None or by_hand:
            # Again: the end of a drill may have quieted it in between.
            means.alarm.sound()
        if broken is not None:
            means.outlet.trip(broken)
        means.prompts.drop()
        means.outlet.event(t, "off", reason, wire_ns=wire, why=why, was_on=was_on)
        if by_hand:
            self.off.ask_hand("Switch the unit off now.")
        if tried:
            self.off.follow()

    def _is_off(self, t: int, seen: bool) -> None:
        with self.lock:
            (self.stages.confirmed_off if seen else self.stages.told_off)(t)
        self.dial.ask_back()

    # --- the end --------------------------------------------------------------------------------

    def _cannot_write(self, error: StoreError) -> None:
        fault = error.faults[0]
        notice = messages.Notice(place=fault.place, problem=fault.problem, fix=fault.fix, grave=True)
        self._means.outlet.send(notice)

    def close(self) -> messages.Closed | None:
        """Close the session with its ending; None where there was none. Ends the cut threads."""
        self.off.stop()
        self.draining.stay_open = False
        self._means.prompts.drop()
        session, outlet = self.session, self._means.outlet
        writer = outlet.writer
        if session is None or writer is None:
            return None
        if self.proven_off:
            self._means.alarm.quiet()
        wire = wire_now()
        t = self._means.clock.of(wire)
        outcome, reason = self._ending or (Ending.STOPPED, "closed before it was on")
        self._anchor(t, wire)
        stands = {"off": self.off.outcome, "told_off": self.off.told_off, "failed": self.off.failed}
        outlet.event(t, "closed", reason, outcome=outcome, **stands, reservoirs=self.draining.account())
        outlet.end()
        try:
            folded = writer.close(outcome, reason, self._means.session_time(t))
        except StoreError as error:
            self._cannot_write(error)
            session.abandon()
            folded = False
        return messages.Closed(path=str(session.path), outcome=outcome, reason=reason, folded=folded)
