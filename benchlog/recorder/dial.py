"""The dial of a variable transformer turned by hand: watched in a proof, asked back to zero, remembered till then.

What goes live at the lowest stage is harmless only with the dial down, and a meter downstream of the off-switch
sees it only once that has closed.
"""

from collections.abc import Callable

from benchlog.domain.guard import Guard
from benchlog.errors import BadInput, BenchlogError
from benchlog.recorder.means import Means
from benchlog.recorder.switchoff import SwitchOff

BACK_TO_ZERO = "Turn the variable transformer back to zero."
_ZERO: dict[str, object] = {"fraction": 0.0, "volts": 0.0}
_FIX = "turn the variable transformer to zero, then prove again"


class Dial:
    """The dial of one run; what was left up is remembered in its means, for the runs that follow."""

    def __init__(self, guard: Guard, means: Means) -> None:
        plan = guard.plan
        self._guard = guard
        self._means = means
        self._turned = plan.has_dial
        self._lowest = (plan.stage[0].fraction or 0.0) * plan.source.mains
        self._let_go: Callable[[], None] | None = None
        self._seen = ""
        self._asked = False

    # --- before -----------------------------------------------------------------------------------

    def prove(self, off: SwitchOff) -> list[str]:
        """Prove every off-switch with the dial down; a sentence each.

        A proof that closes the circuit ends where a meter shows the dial up. BadInput with where it stands.
        """
        left, off.told = self._means.left_up, []
        asks = any(switch.kind == "relay" for switch in off.switches)
        if self._turned and left.dial and not asks and not off.ask("set_dial", BACK_TO_ZERO, dict(_ZERO)):
            raise BadInput("dial", "was left up by the run before", _FIX)
        self._seen, self._let_go = "", off.let_go
        try:
            said = off.prove()
        except BenchlogError:
            self._check(off)
            raise
        finally:
            self._let_go = None
        self._check(off)
        left.dial = False
        return said

    def _check(self, off: SwitchOff) -> None:
        if self._seen:
            off.forget_proofs()
            raise BadInput("dial", f"was left up: {self._seen} while the off-switch was proven", _FIX)

    def reading(self, name: str, value: float) -> None:
        """A good reading of a trace; in a proof one that shows the dial up ends it."""
        let_go, mains = self._let_go, self._guard.mains
        if let_go is None or mains is None or name != mains.plan.name:
            return
        if not self._seen and self._guard.above_setting(value, self._lowest):
            self._seen = f"{name} read {mains.plan.shown(value)}"
            let_go()

    # --- after ------------------------------------------------------------------------------------

    def went_off(self, *, was_on: bool) -> None:
        """The run is over: wherever the dial stands now, it is up until somebody says otherwise."""
        if self._turned and was_on:
            self._means.left_up.dial = True

    def ask_back(self) -> None:
        """Off was seen: ask for the dial, once; not answered, it is asked for before the next proof."""
        if self._asked or not self._means.left_up.dial:
            return
        self._asked = True
        self._means.prompts.ask("set_dial", BACK_TO_ZERO, {**_ZERO, "after": True}, self._answered)

    def _answered(self, yes: bool) -> None:
        if not yes:
            return
        means = self._means
        means.left_up.dial = False
        text = "told: the variable transformer is back at zero"
        means.outlet.event(means.clock.now(), "told", text, prompt="set_dial", done=True, volts=0.0)
