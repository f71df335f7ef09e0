"""The off-switches of a run over stand-ins: what they work with, and what they say."""

import threading

from helpers.stand_ins import Bell, Outbox, Switch
from helpers.watched import BENCH_SUPPLY, HALL, LAMP, MAINS, PLUS, VOLTS, plan_of

from benchlog.domain.guard import Guard
from benchlog.domain.plan import Plan
from benchlog.recorder.clock import Clock
from benchlog.recorder.means import Means
from benchlog.recorder.messages import CutState, Prompt
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.prompts import Prompts
from benchlog.recorder.switchoff import SwitchOff

HALL_PLAN = plan_of(MAINS, LAMP, PLUS, source=HALL)
"""Mains, lamp and a rail: traces that show what relay and hand did."""
BOARD_PLAN = plan_of(
    VOLTS, source=BENCH_SUPPLY, stages=["name='10 V', volts=10.0, current_limit=0.1, dwell=1.0"]
)
"""A supply's own volts: nothing that shows what relay and hand did."""


class Desk:
    """What the off-switches of a run work with."""

    def __init__(self, plan: Plan = HALL_PLAN) -> None:
        self.outbox = Outbox()
        self.bell = Bell()
        self.prompts = Prompts(self.outbox.send)
        self.clock = Clock()
        self.guard = Guard(plan)
        self.lock = threading.Lock()
        self.means = Means(self.clock, Outlet(self.outbox.send), self.prompts, self.bell)
        self.is_off: list[bool] = []
        """Each time that it was found off: whether the meters saw it, or a person said so."""
        self._made: list[SwitchOff] = []

    def off(self, *switches: Switch) -> SwitchOff:
        """These off-switches as a run has them."""
        made = SwitchOff(list(switches), self.guard, self.lock, self.means, self._hears)
        self._made.append(made)
        return made

    def _hears(self, _: int, seen: bool) -> None:
        self.is_off.append(seen)

    def cut(self, off: SwitchOff) -> None:
        """Cut as a run does it."""
        off.fire()
        with self.lock:
            off.begin(self.clock.now())
        if off.by_hand:
            off.ask_hand("Switch the unit off now.")
        off.follow()

    def outcomes(self, path: str = "mains relay") -> list[str]:
        """What was told of one of them, step by step."""
        return [state.outcome for state in self.outbox.of(CutState) if state.path == path]

    def open_prompts(self, kind: str) -> list[int]:
        """The prompts of that kind that nobody has answered."""
        prompts = [prompt for prompt in self.outbox.of(Prompt) if prompt.kind == kind]
        return [prompt.prompt for prompt in prompts if prompt.prompt in self.prompts._open]

    def close(self) -> None:
        """End every cut thread, whatever hangs."""
        for off in self._made:
            for switch in off.switches:
                assert isinstance(switch, Switch)
                switch.goes_on.set()
            off.stop()


def hand(name: str = "wall switch") -> Switch:
    """A person at a switch."""
    return Switch(name, "hand", automatic=False)


def supply(name: str) -> Switch:
    """A programmable supply."""
    return Switch(name, "supply")
