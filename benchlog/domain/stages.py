"""The stage machine: where a staged power-up stands, what is awaited, what happens next.

Pure: it is told what the operator does, what was answered and what time it is, and gives orders for
others to carry out. It never goes up without having been asked to, and never off the ladder.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from benchlog.domain.awaiting import Awaited, Awaiting
from benchlog.domain.dwell import Dwell
from benchlog.domain.guard import Guard
from benchlog.domain.observed import Observation
from benchlog.domain.offproof import CutOutcome
from benchlog.domain.plan import Mover
from benchlog.domain.plan_stage import StagePlan
from benchlog.domain.plan_trace import Role
from benchlog.domain.quantity import show
from benchlog.domain.spot import Spot, SpotReading
from benchlog.domain.trace import SECOND
from benchlog.errors import BadInput


class State(StrEnum):
    """Where the run stands."""

    STANDING = "standing"
    SETTING = "setting"
    SWITCHING_ON = "switching on"
    MOVING = "moving"
    DWELLING = "dwelling"
    DRILL = "drill"
    READY = "ready"
    HELD = "held"
    GOING_OFF = "going off"
    CHANGING = "changing"
    SWITCHING_OFF = "switching off"
    TAIL = "tail"
    CLOSED = "closed"


UNSEEN_TAIL = 60.0  # Plan seconds by which the tail is longer where nobody has seen the unit off.
TOLD_TAIL = 10.0  # The same at least after a person's word alone: meters need that long to bear it out.

NOTHING_SHOWS = "No meter shows that the unit is off. Pull the plug, then say so."
LONGEST_DRILL = 120.0
"""Plan seconds a person has to switch off, for practice or for a change: limits rest meanwhile."""

LIVE = frozenset(State) - {State.STANDING, State.SWITCHING_OFF, State.TAIL, State.CLOSED}
"""States in which the unit may be on, or is about to be again."""

BEING_THERE = frozenset({State.MOVING, State.DWELLING, State.DRILL, State.READY, State.HELD})
"""States in which the source has been set to its stage, and the unit is on at it."""

AT_STAGE = frozenset({State.MOVING, State.DWELLING, State.READY, State.HELD})
"""States in which what is awaited can hold: it is on, and nobody is about to set another stage."""


@dataclass(frozen=True, slots=True)
class Order:
    """Something to be carried out: `ask` a person, `set_supply`, `switch_on`, `switch_off`, `close`.

    `pause` switches off, through the off-switch, for what is changed with the unit off, and looks for it.
    """

    what: str
    kind: str = ""
    text: str = ""
    data: dict[str, Any] = field(default_factory=dict)


class Stages:
    """The machine of one run over one guard; all times are plan nanoseconds.

    `by_hand` says that a person switches the unit on and off, so that the off-switch is drilled at the
    lowest stage.
    """

    def __init__(self, guard: Guard, *, by_hand: bool) -> None:
        self.guard = guard
        self.plan = guard.plan
        self.state = State.STANDING
        self.index = 0
        self.by_hand = by_hand
        self.drilled = not by_hand
        self.reached = -1
        """The highest stage the unit was on at; -1 before the first."""
        self.asked_on = False
        """Whether it was ever asked to be on: it may be, whatever was answered."""
        self._before = self._off_asked = self._off_at = 0
        # A plan that changes nothing is taken as it stands; else what is fitted is asked for from the first stage on.
        self._fitted = None if self.plan.changes else self.plan.fitted_at(0)
        self.dwell = Dwell()
        self._awaiting = Awaiting(guard)
        self._seen_off = self._told_off = False
        self.alone = False  # Nobody stays with it: it goes off by itself once its last stage is done.
        self.held_open = False  # It is not closed by itself yet: its reservoirs are still followed.

    @property
    def stage(self) -> StagePlan:
        """The present stage."""
        return self.plan.stage[self.index]

    @property
    def off_is_known(self) -> bool:
        """Whether somebody, or a meter, has seen the unit off since it was cut."""
        return self._seen_off or self._told_off

    @property
    def live(self) -> bool:
        """Whether the unit may be on."""
        return self.state in LIVE

    def astray(self) -> tuple[float, float] | None:
        """Where a meter shows the source, and where it must stand; None where it does, or nobody can tell."""
        feed = self.guard.feed
        if self.state not in AT_STAGE or feed.on_since is None:
            return None
        setting = (self.stage.fraction or 0.0) * self.plan.source.mains
        shown = self.guard.off_setting(setting)
        return (shown, setting) if shown is not None else None

    # --- what the operator does -----------------------------------------------------------------

    def next(self, t: int) -> list[Order]:
        """Go up a stage, or off after the last one; BadInput names what is still awaited."""
        if self.state is State.STANDING and not self.plan.run_kind.feeds:
            return self._end("completed", "nothing is switched on: the reservoirs are followed")
        if self.state is State.STANDING:
            return self._set(0, t)
        if self.state not in (State.READY, State.DWELLING):
            raise BadInput("next", f"the run is {self.state}", "wait until the next stage is offered")
        self._check_source()
        missing = [awaited.what for awaited in self.awaited(t)[1:] if not awaited.holds]
        if missing:
            raise BadInput("next", f"still waiting for {', '.join(missing)}", "wait, go back, or switch off")
        if not self.drilled:
            raise BadInput("next", "the off-switch has not been drilled", "wait for the end of the dwell")
        if self.index + 1 == len(self.plan.stage):
            return self._end("completed", "all stages done")
        return self._set(self.index + 1, t)

    def astray_in_words(self) -> str:
        """Where the source stands and where it must, as a clause; empty where it does, or nobody can tell."""
        found = self.astray()
        if found is None:
            return ""
        shown, setting = (self.plan.of_role(Role.MAINS)[0].shown(volts) for volts in found)
        return f"the source stands at {shown}, not at {setting}"

    def _check_source(self) -> None:
        """BadInput where the source stands elsewhere than at this stage: nothing was tried there."""
        wrong = self.astray_in_words()
        if wrong:
            raise BadInput("next", wrong, "turn it there slowly, or switch off")

    def back(self, t: int) -> list[Order]:
        """Go down a stage."""
        if self.state not in (State.READY, State.DWELLING, State.MOVING, State.HELD):
            raise BadInput("back", f"the run is {self.state}", "switch off instead")
        if self.index == 0:
            raise BadInput("back", "this is the lowest stage", "switch off instead")
        return self._set(self.index - 1, t)

    def hold(self) -> list[Order]:
        """Stay at this stage until resumed."""
        if self.state not in (State.READY, State.DWELLING, State.MOVING):
            raise BadInput("hold", f"the run is {self.state}", "hold it while it dwells or moves")
        self.state = State.HELD
        return []

    def resume(self) -> list[Order]:
        """Go on after a hold."""
        if self.state is not State.HELD:
            raise BadInput("resume", f"the run is {self.state}", "hold it first")
        self.state = State.MOVING if self.guard.feed.moving else State.DWELLING
        return []

    def off(self) -> list[Order]:
        """Switch off in good order, through the off-switch."""
        if not self.live:
            raise BadInput("off", f"the run is {self.state}", "it is not on")
        if self.state is State.READY and self.index + 1 == len(self.plan.stage):
            return self._end("completed", "all stages done")
        return self._end("stopped", f"ended at stage {self.stage.name}")

    def observe(self, what: Observation, t: int) -> None:
        """A person tells what they see, hear, smell or feel now."""
        self._awaiting.observe(what, t)

    @property
    def spot_due(self) -> str:
        """The spot of this stage that is to be read now; empty where none is left, or the source moves."""
        return self._awaiting.due(self.stage) if self.state in (State.DWELLING, State.HELD) else ""

    def spot_asked(self, name: str) -> Spot:
        """The spot of that name at this stage; BadInput where it has none, or is not on at it."""
        found = [spot for spot in self.stage.spot if spot.name == name]
        if not found:
            raise BadInput(name, f"is no spot of stage {self.stage.name}", "look at what is asked for")
        if self.state not in AT_STAGE:
            raise BadInput(
                name, f"cannot be read: the run is {self.state}", "wait until the unit is on at its stage"
            )
        return found[0]

    def spot_read(self, name: str, reading: SpotReading | None) -> None:
        """A spot of this stage was read, or skipped."""
        self._awaiting.spots[name] = reading

    # --- what comes back ------------------------------------------------------------------------

    def was_set(self, done: bool, t: int) -> list[Order]:
        """The source was set, or could not be."""
        if self.state is not State.SETTING:
            return []
        feed = self.guard.feed
        if not done:
            # It still stands where it stood; a unit that is off begins at the lowest stage again.
            self.index = self._before
            self.state = State.STANDING if feed.on_since is None else State.HELD
            feed.told_not_set(t)
            return []
        feed.told_set()
        if feed.on_since is None:
            return self._switch_on()
        self._come_up(t)
        return []

    def was_switched_on(self, done: bool, t: int) -> list[Order]:
        """The unit was switched on, or was not."""
        if self.state is not State.SWITCHING_ON:
            return []
        if not done:
            self.state = State.STANDING
            return []
        return self.seen_on(t)

    def seen_on(self, t: int) -> list[Order]:
        """The meters show that the unit is on, before anybody has said so or whatever was said."""
        self.guard.feed.switch(True, t)
        self._come_up(t)
        return []

    def was_drilled(self, seen_off: bool, t: int) -> list[Order]:
        """The drill of the off-switch ended: the unit was seen to go off, or was not."""
        if self.state is not State.DRILL:
            return []
        if not seen_off:
            return self._end("tripped", "the off-switch was not seen to work in its drill")
        self.drilled = True
        self.guard.feed.switch(False, t)
        return self._switch_on()

    def was_put_off(self, outcome: CutOutcome, t: int, *, told: bool = False) -> list[Order]:
        """What came of switching off for a change: seen off, seen on, or nothing that could show it.

        `told`: a person says that it is off, where nothing shows it.
        """
        if self.state is not State.GOING_OFF:
            return []
        if outcome is CutOutcome.VERIFIED or told:
            self.guard.feed.switch(False, t)
            return self._change()
        if outcome is CutOutcome.UNKNOWN:
            self._off_asked = t
            return [Order("ask", "switch_off", NOTHING_SHOWS, {"change": True, "plug": True})]
        return self._end("tripped", "the unit was not seen to go off for the change")

    def was_changed(self, done: bool, t: int) -> list[Order]:
        """What stands between source and unit was changed, or was not: then it stands off."""
        if self.state is not State.CHANGING:
            return []
        if not done:
            self._fitted = None
            self.index = self._before
            self.state = State.STANDING
            return []
        self._fitted = self.plan.fitted_at(self.index)
        self.guard.feed.lamp_watts = self._fitted.lamp_watts
        return self._set_source(t)

    def went_off(self, t: int) -> None:
        """The cut was asked, for whatever reason: the tail begins."""
        if self.state not in (State.TAIL, State.CLOSED):
            self.state = State.TAIL
            self._off_at = t

    def told_off(self, t: int) -> None:
        """A person says that the unit is off: the tail is counted from here, unless a meter sees it yet."""
        if self.state is State.TAIL and not self.off_is_known:
            self._told_off = True
            self._off_at = t

    def confirmed_off(self, t: int) -> None:
        """The far end was seen off: the tail is counted from here."""
        if self.state is State.TAIL and not self._seen_off:
            self._seen_off = True
            self._off_at = t

    def close(self) -> list[Order]:
        """Close the run before its tail is over, or before it began; one that may have been on goes off first."""
        if self.live or self.state is State.SWITCHING_OFF:
            raise BadInput("close", f"the run is {self.state}", "switch off first")
        if self.state is State.STANDING and self.asked_on:
            return self._end("stopped", f"ended at stage {self.stage.name}")
        self.state = State.CLOSED
        return [Order("close")]

    # --- time -----------------------------------------------------------------------------------

    @property
    def _tail(self) -> float:
        """Plan seconds from off to the close, as long as nothing more is heard of it."""
        if self._seen_off:
            return self.plan.tail
        return max(self.plan.tail, TOLD_TAIL) if self._told_off else self.plan.tail + UNSEEN_TAIL

    def tick(self, t: int) -> list[Order]:
        """Look at the clock and the traces; what is to be done now, mostly nothing."""
        if self.state is State.TAIL:
            if self.held_open or t - self._off_at < self._tail * SECOND:
                return []
            self.state = State.CLOSED
            return [Order("close")]
        if self.state is State.DRILL:
            return self._wait_for_drill(t)
        if self.state is State.GOING_OFF:
            if t - self._off_asked >= LONGEST_DRILL * SECOND:
                return self.was_put_off(CutOutcome.STILL_LIVE, t)
            self._let_fall(t)
        self._count_dwell(t)
        if self.state is State.MOVING and not self.guard.feed.moving:
            self.state = State.DWELLING
        elif self.state in (State.DWELLING, State.READY) and self.guard.feed.moving:
            self.state = State.MOVING
        elif self.state in (State.DWELLING, State.READY):
            return self._offer(t)
        return []

    def _offer(self, t: int) -> list[Order]:
        if self.astray() or not all(awaited.holds for awaited in self.awaited(t)):
            self.state = State.DWELLING
            return []
        if not self.drilled:
            self.state = State.DRILL
            self._off_asked = t
            # The rails are about to fall on purpose: low limits rest as for any move.
            self.guard.feed.begin_move(self.guard.feed.target, t)
            return [Order("ask", "switch_off", "Drill: switch the unit off now.", {"drill": True})]
        self.state = State.READY
        ends = self.alone and self.index + 1 == len(self.plan.stage)
        return self._end("completed", "all stages done, and nobody stays with it") if ends else []

    def _wait_for_drill(self, t: int) -> list[Order]:
        """Low limits rest until the drill is over, however long a person needs; but not for ever."""
        if t - self._off_asked >= LONGEST_DRILL * SECOND:
            return self.was_drilled(False, t)
        self._let_fall(t)
        return []

    def _let_fall(self, t: int) -> None:
        """Rails fall on purpose: low limits rest as for any move, for as long as it takes."""
        if not self.guard.feed.moving:
            self.guard.feed.begin_move(self.guard.feed.target, t)

    def _count_dwell(self, t: int) -> None:
        resting = self.state in (State.DWELLING, State.READY, State.HELD) and not self.guard.feed.moving
        self.dwell.count(t, resting=resting and self.astray() is None)

    @property
    def dwell_left(self) -> float:
        """Plan seconds of dwell that remain at this stage."""
        return self.dwell.left(self.index, self.stage.dwell)

    def awaited(self, t: int) -> Sequence[Awaited]:
        """What must hold before the next stage is offered: the dwell first, the waits, and what is doubted."""
        left, dwell = self.dwell_left, self.dwell.of(self.index, self.stage.dwell)
        return [
            Awaited(f"dwell {dwell:g} s", left <= 0.0, f"{left:.0f} s left" if left > 0 else ""),
            *self._awaiting.said(self.stage, t, here=self.state in AT_STAGE and not self.astray()),
        ]

    # --- moves ----------------------------------------------------------------------------------

    def _end(self, how: str, why: str) -> list[Order]:
        self.state = State.SWITCHING_OFF
        return [Order("switch_off", how, why)]

    def _set(self, index: int, t: int) -> list[Order]:
        self._before = self.index
        self.index = index
        self.dwell.begin()
        self._awaiting.begin()
        if self.plan.fitted_at(index) == self._fitted:
            return self._set_source(t)
        return self._change() if self.guard.feed.on_since is None else self._go_off(t)

    def _go_off(self, t: int) -> list[Order]:
        """Off first: what is to be changed carries the mains."""
        self.state = State.GOING_OFF
        self._off_asked = t
        if not self.by_hand:
            return [Order("pause")]
        text = f"Switch the unit off, to {self.plan.fitted_at(self.index).words}."
        return [Order("pause"), Order("ask", "switch_off", text, {"change": True})]

    def _change(self) -> list[Order]:
        self.state = State.CHANGING
        fitted = self.plan.fitted_at(self.index)
        text = f"Pull the plug, {fitted.words}, plug in again."
        return [Order("ask", "fit_lamp", text, {"watts": fitted.lamp_watts, "link": fitted.link})]

    def _set_source(self, t: int) -> list[Order]:
        self.state = State.SETTING
        stage, source = self.stage, self.plan.source
        if source.moved_by is Mover.PROGRAM:
            volts = stage.volts or 0.0
            self.guard.feed.begin_move(volts, t)
            data = {
                "volts": volts,
                "limit": stage.current_limit or 0.0,
                "protection": volts * source.protection,
            }
            return [Order("set_supply", data=data)]
        fraction = stage.fraction or 0.0
        volts = fraction * source.mains
        self.guard.feed.begin_move(volts, t)
        if not self.plan.has_dial:
            return self.was_set(True, t)
        text = f"Set the variable transformer to {100 * fraction:.0f} %, {show(volts, 'V')}."
        return [Order("ask", "set_dial", text, {"fraction": fraction, "volts": volts})]

    def _switch_on(self) -> list[Order]:
        self.state = State.SWITCHING_ON
        self.asked_on = True
        if self.by_hand:
            return [Order("ask", "switch_on", "Hands out. Switch the unit on.")]
        return [Order("switch_on")]

    def _come_up(self, t: int) -> None:
        self.state = State.MOVING
        self.reached = max(self.reached, self.index)
        self._awaiting.came(t)
        if self.guard.mains is None and self.plan.source.moved_by is Mover.HAND:
            # Nobody meters the mains: the person's word ends the move.
            self.guard.feed.settle(t)
