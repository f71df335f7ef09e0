"""The person at the simulated bench: turns, switches and listens when asked, a little later each time."""

import math
import random
import time
from collections.abc import Callable
from typing import Any

from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.loop import Loop, Timer
from benchlog.simbench.relay import Relay

TURNS = (1.0, 5.0)
"""Plan seconds from the prompt until the dial stands where it was asked to."""
TURNING = 0.8
"""Of these the hand is on the dial, at most."""
SWITCHES = (0.8, 2.0)
"""Plan seconds from prompt or alarm to the switch."""
CHANGES_LAMP = (4.0, 8.0)
HEARS_BACK = 10.0
"""Real seconds an alarm is remembered."""
NEVER = -math.inf
LISTENS = 5.0
"""Real seconds the hand waits for a sound it was asked about."""
STEP = 0.01
"""Real seconds between two small turns of the dial."""

Answer = Callable[[dict[str, Any]], None]
"""Told once: `yes`, `took` in plan seconds, and `why` where it was not done."""


class Hand:
    """One hand at the dial and the switch, one ear for relay and alarm.

    `model` is the amplifier whose dial it turns, None on a bench that has nothing to turn; `switched` is
    called after each move of the switch. Where the bench is `played` by a person this hand does nothing at
    an alarm but count it in `alarms`; one that is `deaf` hears none of them.
    """

    def __init__(
        self,
        loop: Loop,
        *,
        speed: float,
        model: Amplifier | None,
        relay: Relay | None,
        chance: random.Random,
        tell: Callable[..., None],
        switched: Callable[[], None],
        played: bool = False,
    ) -> None:
        self.alarms = 0
        self.deaf = False
        self._played = played
        self._loop = loop
        self._speed = speed
        self._model = model
        self._relay = relay
        self._chance = chance
        self._tell = tell
        self._switched = switched
        self._clicks_counted = 0
        self._alarm_heard = NEVER
        self._going_off: Timer | None = None
        self._under_way: dict[int, tuple[Timer, Callable[[], None]]] = {}
        self._count = 0

    # --- what it is asked ------------------------------------------------------------------------

    def prompt(self, kind: str, request: dict[str, Any], answer: Answer) -> None:
        """Do or perceive what a prompt asks for; `answer` is called when that is over."""
        self._tell("prompt", kind=kind)
        began = time.monotonic()

        def done(yes: bool, why: str = "") -> None:
            took = (time.monotonic() - began) * self._speed
            self._tell("hand", kind=kind, yes=yes)
            answer({"yes": yes, "took": round(took, 3), **({"why": why} if why else {})})

        model = self._model
        if kind == "heard_alarm":
            self._await(lambda: time.monotonic() - self._alarm_heard < HEARS_BACK, done)
        elif kind == "relay_clicked":
            self._count_clicks(int(request.get("times", 1)), done)
        elif model is None or (kind == "set_dial" and not model.unit.dial):
            done(False, "there is nothing of the kind here")
        elif kind == "set_dial":
            self._turn(model, float(request["fraction"]), done)
        elif kind in {"switch_on", "switch_off"}:
            on = kind == "switch_on"
            # An alarm takes the hand from everything but switching off.
            self._later(SWITCHES, lambda: self._switch(model, on, done), done if on else None)
        elif kind == "fit_lamp":
            self._later(CHANGES_LAMP, lambda: self._change_lamp(model, float(request["watts"]), done), done)
        else:
            done(False, f'nobody taught the hand "{kind}"')

    def hear_alarm(self) -> None:
        """Hear the alarm: where the unit is on, switch it off a moment later."""
        self.alarms += 1
        self._tell("alarm")
        if self.deaf:
            return
        self._alarm_heard = time.monotonic()
        model = self._model
        if self._played or model is None or not model.energised or self._going_off is not None:
            return
        self._drop_everything()
        seconds = self._chance.uniform(*SWITCHES) / self._speed
        self._going_off = self._loop.after(seconds, lambda: self._switch_off_at_alarm(model))

    def since_alarm(self) -> float | None:
        """Real seconds since an alarm was heard; None where none was."""
        return time.monotonic() - self._alarm_heard if self._alarm_heard > NEVER else None

    # --- how it is done --------------------------------------------------------------------------

    def _later(
        self, span: tuple[float, float], do: Callable[[], None], done: Callable[..., None] | None
    ) -> None:
        """Do it after a time within `span`; with `done`, unless an alarm comes first."""
        self._count += 1
        number = self._count

        def act() -> None:
            self._under_way.pop(number, None)
            do()

        timer = self._loop.after(self._chance.uniform(*span) / self._speed, act)
        if done is not None:
            self._under_way[number] = (timer, lambda: done(False, "the alarm came first"))

    def _drop_everything(self) -> None:
        """Leave what is under way: an alarm goes first."""
        under_way, self._under_way = self._under_way, {}
        for timer, give_up in under_way.values():
            timer.cancel()
            give_up()

    def _turn(self, model: Amplifier, fraction: float, done: Callable[..., None]) -> None:
        start = model.dial
        whole = self._chance.uniform(*TURNS)
        turning = min(TURNING, whole) if abs(fraction - start) > 1e-6 else 0.0
        steps = max(1, int(turning / self._speed / STEP))

        def move(step: int) -> None:
            model.dial = start + (fraction - start) * step / steps
            if step < steps:
                self._later((turning / steps,) * 2, lambda: move(step + 1), done)
                return
            self._tell("dial", fraction=fraction)
            done(True)

        self._later((whole - turning,) * 2, lambda: move(1), done)

    def _switch(self, model: Amplifier, on: bool, done: Callable[..., None]) -> None:
        model.switched_on = on
        self._switched()
        done(True)

    def _switch_off_at_alarm(self, model: Amplifier) -> None:
        self._going_off = None
        self._tell("hand", kind="switch_off", yes=True, why="alarm")
        model.switched_on = False
        self._switched()

    def _change_lamp(self, model: Amplifier, watts: float, done: Callable[..., None]) -> None:
        if model.energised and model.dial > 0.0:
            done(False, "it is live")
            return
        model.fit_lamp(watts)
        self._tell("lamp", watts=watts)
        done(True)

    def _count_clicks(self, times: int, done: Callable[..., None]) -> None:
        """Say yes if the relay has clicked that often since it was last asked."""
        relay = self._relay
        if relay is None:
            done(False, "there is no relay here")
            return

        def counted(_enough: bool, _why: str = "") -> None:
            heard = relay.clicks - self._clicks_counted
            self._clicks_counted = relay.clicks
            done(heard == times, "" if heard == times else f"heard {heard} clicks")

        self._await(lambda: relay.clicks - self._clicks_counted >= times, counted)

    def _await(self, there: Callable[[], bool], done: Callable[..., None]) -> None:
        """Listen until it is there, `LISTENS` real seconds at most."""
        until = time.monotonic() + LISTENS

        def look() -> None:
            if there():
                done(True)
            elif time.monotonic() > until:
                done(False, "heard nothing")
            else:
                self._loop.after(STEP, look)

        look()
