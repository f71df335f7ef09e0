"""The bench's controls in a person's own hands: where somebody plays at a panel, each obeys at once.

The simulated hand of `hand.py` does not come in between; the person at the panel is the one who hears
the alarm and goes to the switch.
"""

import time
from collections.abc import Callable, Mapping

from benchlog.errors import BadInput
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.lamp import SIZES
from benchlog.simbench.loop import Loop
from benchlog.simbench.tampered import ACTS, Tampered

MOST = 1.1
"""The end of the dial, as a fraction of the mains."""
TURNS = 2.5
"""How fast the dial follows, as a fraction of the mains in a real second: from end to end in under half of one."""
PRESETS = {"idle": (0.02, 4.0), "offset": (-0.1, 0.1)}
"""The trimmers of a channel and their ends: idle as a multiple, offset in volts."""
SIDES = ("left", "right")
STEP = 0.01
"""Real seconds between two small turns of the dial."""


class Person:
    """What a person at the panel can lay a hand on; `model` is None where there is nothing of the kind.

    `switched` is called after each move of the switch; `meters` are those that can be tampered with, by job.
    """

    def __init__(
        self,
        loop: Loop,
        *,
        model: Amplifier | None,
        tell: Callable[..., None],
        switched: Callable[[], None],
        meters: Mapping[str, Tampered] | None = None,
    ) -> None:
        self._meters = meters or {}
        self._loop = loop
        self._model = model
        self._tell = tell
        self._switched = switched
        self._wanted = 0.0
        self._turning = False

    def turn(self, fraction: float) -> None:
        """Turn the dial of the variable transformer; it follows within a fraction of a second."""
        model = self._there("dial")
        if not model.unit.dial:
            raise BadInput("dial", "there is none on this bench")
        if not 0.0 <= fraction <= MOST:
            raise BadInput("dial", f"{fraction:g} is beyond its end", f"it turns from 0 to {MOST:g}")
        self._wanted = fraction
        if not self._turning:
            self._turning = True
            self._follow(model)

    def switch(self, on: bool) -> None:
        """Throw the wall switch."""
        model = self._there("switch")
        model.switched_on = on
        self._switched()

    def fit_lamp(self, watts: float) -> None:
        """Change the lamp in series; not while it is live."""
        model = self._there("lamp")
        if watts not in SIZES:
            sizes = ", ".join(f"{size:g}" for size in SIZES)
            raise BadInput("lamp", f"there is none of {watts:g} W", f"there are: {sizes}")
        if model.energised and model.dial > 0.0:
            raise BadInput("lamp", "it is live", "switch off first")
        model.fit_lamp(watts)
        self._tell("lamp", watts=watts)

    def trim(self, preset: str, to: float) -> None:
        """Turn a trimmer: `idle left` to a multiple of the cold idle it came with, `offset left` by so many volts."""
        model = self._there("trimmer")
        what, _, side = preset.partition(" ")
        if what not in PRESETS or side not in SIDES:
            known = ", ".join(f"{one} {other}" for one in PRESETS for other in SIDES)
            raise BadInput("trimmer", f'there is no "{preset}"', f"there are: {known}")
        low, high = PRESETS[what]
        if not low <= to <= high:
            raise BadInput("trimmer", f"{to:g} is beyond its end", f"{what} turns from {low:g} to {high:g}")
        channel = model.left if side == "left" else model.right
        if what == "idle":
            channel.idle_preset = to
        else:
            channel.offset_preset = to
        self._tell("trimmer", preset=preset, to=to)

    def tamper(self, job: str, act: str) -> None:
        """Do one of `ACTS` to a meter."""
        meter = self._meters.get(job)
        if meter is None:
            raise BadInput(
                "meter", f'there is no "{job}" to lay a hand on', f"there are: {', '.join(self._meters)}"
            )
        if act not in ACTS:
            raise BadInput(
                "meter", f'"{act}" is nothing that can be done to it', f"there are: {', '.join(ACTS)}"
            )
        meter.do(act)
        self._tell("meter", job=job, act=act)

    def _there(self, what: str) -> Amplifier:
        if self._model is None:
            raise BadInput(what, "there is none on this bench")
        return self._model

    def _follow(self, model: Amplifier) -> None:
        """Move on towards what is wanted, which a hand may change on the way."""
        left = self._wanted - model.dial
        step = TURNS * STEP
        if abs(left) > step:
            model.dial += step if left > 0.0 else -step
            self._loop.at(time.monotonic() + STEP, lambda: self._follow(model))
            return
        model.dial = self._wanted
        self._turning = False
        self._tell("dial", fraction=self._wanted)
