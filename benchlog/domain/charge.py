"""What is left on a board before a round in ohms (rule 29): volts across the reservoirs, and at the nodes to be read.

One is asked for the hands: below `SHOCK` volts. The other for the meter: what is left there adds to what its test
current drops, so that the error in ohms is volts over current. Neither says that anything is safe.
"""

from dataclasses import dataclass

from benchlog.domain.quantity import quantity, show
from benchlog.errors import BadInput

SHOCK = 1.0
"""Volts across a reservoir below which its charge is no shock (rule 29)."""
FOR_OHMS = 10e-3
"""Volts at the nodes below which ohms are believed (rule 29)."""
TEST_CURRENT = 1e-6
"""Amps that a meter may drive through a part in its highest ranges (rule 29)."""


@dataclass(frozen=True, slots=True)
class Charge:
    """Volts left, as they were read; None where that was not read."""

    reservoirs: float | None = None
    nodes: float | None = None

    @property
    def dead(self) -> bool | None:
        """Whether the board counts as without charge: not where either reading says so, None until both are there."""
        over = (
            self.shocks,
            self.nodes is not None and abs(self.nodes) >= FOR_OHMS,
        )
        if any(over):
            return False
        return None if self.reservoirs is None or self.nodes is None else True

    @property
    def shocks(self) -> bool:
        """Whether the reservoirs hold what is felt."""
        return self.reservoirs is not None and abs(self.reservoirs) >= SHOCK

    @property
    def error(self) -> float | None:
        """How far ohms can be off by what is left at the nodes, ohms: volts over the test current (Ohm's law)."""
        return None if self.nodes is None else abs(self.nodes) / TEST_CURRENT

    @property
    def said(self) -> str:
        """What was read and what follows from it, in a sentence or two; empty where nothing was read."""
        if self.reservoirs is None and self.nodes is None:
            return ""
        read = []
        if self.reservoirs is not None:
            read.append(f"{show(self.reservoirs, 'V')} across the reservoirs")
        if self.nodes is not None:
            read.append(f"{show(self.nodes, 'V')} at the nodes")
        text = f"{' and '.join(read)}."
        if self.shocks:
            return f"{text} Discharge them through a resistor, and measure again."
        if self.nodes is not None and self.error is not None and abs(self.nodes) >= FOR_OHMS:
            return f"{text} Ohms can be off by {show(self.error, 'ohm', digits=2)} at a test current of 1 µA."
        return text


def volts(text: str, what: str) -> float | None:
    """Volts as they are typed: `0.4`, `12 mV`; None where nothing was. `BadInput` naming `what` for anything else."""
    if not text.strip():
        return None
    try:
        return quantity(text, "V").value
    except BadInput as error:
        raise BadInput(what, f"{error.place} {error.problem}", "write volts, as in 0.4 or 12 mV") from None
