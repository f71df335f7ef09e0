"""Carries out what the stage machine of a run orders, and tells it what came of that."""

import threading
from collections.abc import Callable
from typing import Protocol

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.domain.plan import Plan
from benchlog.domain.stages import Order, Stages, State
from benchlog.errors import BadInput
from benchlog.recorder.cut import Done
from benchlog.recorder.means import Means
from benchlog.recorder.stage_news import StageNews
from benchlog.recorder.switchoff import SwitchOff
from benchlog.store.records import Ending

_ONWARD = ("ask", "set_supply", "switch_on", "pause")
"""Orders that mean nothing once the run has been ended."""

_ENDINGS = {"completed": Ending.COMPLETED, "stopped": Ending.STOPPED, "tripped": Ending.TRIPPED}
"""How a run ends that the stage machine switches off."""

SetSupply = Callable[[float, float, float, Done], None]
"""Set every output of the source: volts, current limit, protection; then tell."""


class Ordering(Protocol):
    """What orders are carried out for: a run."""

    plan: Plan
    stages: Stages
    off: SwitchOff
    lock: threading.Lock
    closed: threading.Event

    @property
    def ended(self) -> bool:
        """Whether it is over, but for its tail."""

    @property
    def is_on(self) -> bool:
        """Whether the unit is known to be on."""

    def trip(self, place: str, text: str) -> None:
        """Off for something that no limit of the plan says."""

    def switch_off(self, ending: str, reason: str, why: str) -> None:
        """Switch off, by every way there is."""


class Orders:
    """The orders of one run; nothing is carried out under its lock."""

    def __init__(self, run: Ordering, news: StageNews, means: Means, set_supply: SetSupply) -> None:
        self._run = run
        self._news = news
        self._means = means
        self._set_supply = set_supply

    def carry_out(self, orders: list[Order]) -> None:
        """Do what is ordered, in its order; what leads on is left where the run has been ended."""
        run = self._run
        for order in orders:
            if run.ended and order.what in _ONWARD:
                continue
            if "switch_on" in (order.what, order.kind) and (against := self._against_rising()):
                self._was_switched_on(against)
            elif order.what == "ask":
                self._ask(order)
            elif order.what == "set_supply":
                data = order.data
                self._set_supply(data["volts"], data["limit"], data["protection"], self._supply_was_set)
            elif order.what == "switch_on":
                self._switch_on()
            elif order.what == "pause":
                self._pause()
            elif order.what == "switch_off":
                run.switch_off(_ENDINGS[order.kind], order.text, "off")
            elif order.what == "close":
                run.closed.set()

    def _against_rising(self) -> str:
        """Why nothing may be switched on just now, since it was asked for; empty where nothing speaks against it."""
        try:
            self._means.may_rise()
        except BadInput as error:
            return str(error)
        return ""

    def _switch_on(self) -> None:
        """Switch on, unless a meter shows that a relay's contact is closed already: its proof was by ear alone."""
        run = self._run
        relay = next((switch.name for switch in run.off.switches if switch.kind == "relay"), "")
        with run.lock:
            fed = run.stages.guard.fed(self._means.clock.now()) if relay else ""
        if fed:
            run.trip(relay, f"{fed} before {relay} was switched on: its contact is welded or bypassed")
            return
        run.off.goes_on()
        run.off.switch_on(self._was_switched_on)

    def _ask(self, order: Order) -> None:
        if order.data.get("drill"):
            self._means.alarm.sound()
        if order.kind == "switch_on":
            self._run.off.goes_on()
        # A cut may come in between: what it asks itself comes after this.
        self._means.prompts.ask(
            order.kind,
            order.text,
            order.data,
            lambda yes: self._answered(order, yes),
            lambda: self._run.ended,
        )

    def _answered(self, order: Order, yes: bool) -> None:
        t, kind = self._means.clock.now(), order.kind
        run, stages = self._run, self._run.stages
        orders: list[Order] = []
        with run.lock:
            if run.ended:
                return  # taken back by the cut: nobody told anything
            if kind == "set_dial":
                orders = stages.was_set(yes, t)
            elif kind == "switch_on":
                orders = stages.was_switched_on(yes, t)
            elif kind == "fit_lamp":
                orders = stages.was_changed(yes, t)
            elif kind == "switch_off" and stages.state is State.DRILL:
                # A cut that came meanwhile sounds on.
                self._means.alarm.quiet()
                if yes:
                    run.off.hand_done(t)
                else:
                    orders = stages.was_drilled(False, t)
            elif kind == "switch_off" and stages.state is State.GOING_OFF:
                orders = self._told_for_change(order, yes, t)
        done = "done" if yes else "not done"
        self._means.outlet.event(t, "told", f"told: {told(order)} {done}", prompt=kind, done=yes)
        self.carry_out(orders)
        self._news.say(t)

    def _told_for_change(self, order: Order, yes: bool, t: int) -> list[Order]:
        """Under the lock: what a person says of an off for a change."""
        run = self._run
        if not yes:
            return run.stages.was_put_off(CutOutcome.STILL_LIVE, t)
        if order.data.get("plug"):
            return run.stages.was_put_off(CutOutcome.UNKNOWN, t, told=True)
        run.off.put_off_by_hand()
        return []

    def _pause(self) -> None:
        run, means = self._run, self._means

        def done(finding: Finding) -> None:
            t = means.clock.now()
            with run.lock:
                ended = run.ended
                orders = run.stages.was_put_off(finding.outcome, t) if not ended else []
            if ended:
                return
            text = f"off for a change: {finding.text}"
            means.outlet.event(t, "paused", text, outcome=finding.outcome.value)
            self.carry_out(orders)
            self._news.say(t)

        run.off.pause(means.clock.now(), done)

    def _supply_was_set(self, fault: str) -> None:
        if fault and self._run.is_on:
            # Some outputs may have followed and others not: nobody knows what feeds the unit.
            self._run.trip(self._run.plan.source.supply, f"the supply could not be set: {fault}")
            return
        self._carried_out("set", fault or "the supply took its settings", self._run.stages.was_set, not fault)

    def _was_switched_on(self, fault: str) -> None:
        self._carried_out("on", fault or "switched on", self._run.stages.was_switched_on, not fault)

    def _carried_out(
        self, kind: str, text: str, tell: Callable[[bool, int], list[Order]], done: bool
    ) -> None:
        t = self._means.clock.now()
        with self._run.lock:
            cut = self._run.ended
            orders = tell(done, t) if not cut else []
        self._means.outlet.event(
            t, kind, f"too late, the run was cut: {text}" if cut else text, done=done and not cut
        )
        self.carry_out(orders)
        self._news.say(t)


def told(order: Order) -> str:
    """What a person was asked for, as it is kept."""
    if order.kind == "fit_lamp":
        watts, link = order.data["watts"], order.data["link"]
        return " and ".join(filter(None, (f"{watts:g} W lamp" if watts else "no lamp", link)))
    return order.kind.replace("_", " ")
