"""What the reservoirs of a run hold after off: followed until each was seen to discharge, told, and asked about."""

from benchlog.domain.discharge import AGAIN_AFTER, UNDER, Charge, Discharge, Standing
from benchlog.domain.guard import Guard
from benchlog.domain.reading import Outcome
from benchlog.domain.seen import Verdict
from benchlog.recorder.clock import SECOND
from benchlog.recorder.means import Means

LOOK_EVERY = 0.25
"""Wire seconds between two looks."""
REBOUND = f"A minute later: is each capacitor under {UNDER:g} V at its own terminals?"
_WHY = {
    Outcome.OVERLOAD: "beyond the range of its meter",
    Outcome.LATE: "its reading came late",
    Outcome.MISSING: "its meter gave no answer",
    Outcome.NOT_A_NUMBER: "its meter gave no number",
    Outcome.MALFORMED: "its meter's answer was garbled",
}


class Draining:
    """The reservoirs of one run. Where `stay_open` is set the run stays open for what is left to see of them."""

    def __init__(self, guard: Guard, means: Means) -> None:
        self.stay_open = False
        self._guard = guard
        self._means = means
        self._discharge: Discharge | None = None
        self._off_asked = False
        self._looked = 0
        self._follows = False
        self._told: dict[str, Charge] = {}
        self._found: dict[str, Standing] = {}
        self._question: bool | None = None
        """Whether somebody is asked just now; None before."""

    # --- under the run's lock -------------------------------------------------------------------

    def begin(self, t: int) -> None:
        """Off was asked at plan time `t`: what the traces read from here on counts, and since it fell on purpose."""
        self._follow(t).begin(t)
        self._off_asked = True

    def _follow(self, t: int) -> Discharge:
        if self._discharge is None:
            self._discharge = Discharge(self._guard.traces, t, self._means.clock.rate)
        return self._discharge

    def reading(
        self, name: str, value: float | None, t: int, outcome: Outcome, verdict: Verdict | None
    ) -> None:
        """A reading of a trace, and what is thought of it."""
        if self._discharge is None:
            return
        why = verdict.doubt if verdict is not None and verdict.doubt else _WHY.get(outcome, outcome.value)
        self._discharge.reading(name, value if outcome is Outcome.OK else None, t, why)

    def look(self, t: int, *, falls: bool = False) -> bool:
        """Look at them now and then; whether the run has to stay open for what is still to be seen.

        `falls`: the unit goes off or is off on purpose, for a drill or a change. What falls then is followed, so
        that a cut which comes later knows what stood there; a unit that is on again has begun anew.
        """
        if not self._off_asked:
            self._discharge = self._follow(t) if falls else None
            return False
        discharge = self._follow(t)
        if t - self._looked >= LOOK_EVERY * self._means.clock.rate * SECOND or not self._found:
            self._looked, self._found = t, discharge.standings(t)
            self._follows = discharge.to_follow(t)
        if not self.stay_open or discharge.too_long(t):
            return False
        return self._follows or self._to_ask() or bool(self._question)

    def _to_ask(self) -> bool:
        return self._question is None and any(one.charge is Charge.STAYED for one in self._found.values())

    # --- after it was let go --------------------------------------------------------------------

    def tell(self, t: int) -> None:
        """Tell and keep what has changed, and ask once when all that could be seen low was read again."""
        for name, standing in self._found.items():
            if self._told.get(name) is standing.charge:
                continue
            self._told[name] = standing.charge
            shown = self._guard.plan.find(name).shown
            volts = f"{shown(standing.volts)}, " if standing.volts is not None else ""
            self._means.outlet.event(
                t,
                "discharge",
                f"{name}: {volts}{standing.text}",
                trace=name,
                charge=standing.charge.value,
                said=standing.text,
                volts=standing.volts,
            )
        waits = any(one.charge is Charge.DECAYED for one in self._found.values())
        if self.stay_open and self._to_ask() and not waits and not self._means.prompts.asking:
            self._question = True
            self._means.prompts.ask("rebound", REBOUND, {"seconds": AGAIN_AFTER}, self._answered)

    def _answered(self, yes: bool) -> None:
        if not self.stay_open:
            return  # Taken back by the close.
        self._question = False
        said = f"under {UNDER:g} V" if yes else f"not all under {UNDER:g} V"
        self._means.outlet.event(
            self._means.clock.now(),
            "told",
            f"told: measured across each capacitor's own terminals, {said}",
            prompt="rebound",
            done=yes,
        )

    def account(self) -> dict[str, dict[str, str | float | None]]:
        """How each reservoir stood at last, for the record of the close."""
        return {
            name: {"charge": one.charge.value, "volts": one.volts, "said": one.text}
            for name, one in self._found.items()
        }
