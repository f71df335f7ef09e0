"""One output of the two-output supply: it regulates, it limits, it protects."""

from collections.abc import Callable

SETTLING = 0.015
"""Seconds in which the voltage follows its setting."""
PULL_DOWN = 220.0
"""Ohms that the output lays across its terminals while it is off."""
HIGHEST_VOLTS, HIGHEST_AMPS = 32.0, 3.0


class Output:
    """An output with its settings and what it does with them; `volts` and `amps` stand at its terminals."""

    def __init__(self, number: int, tell: Callable[..., None]) -> None:
        self.number = number
        self._tell = tell
        self.reset()
        self.volts = 0.0
        self.amps = 0.0

    def reset(self) -> None:
        """Go back to what the supply wakes up with: off, 0 V, 0.1 A, protection at the top."""
        self.set_volts = 0.0
        self.limit = 0.1
        self.protection = HIGHEST_VOLTS * 1.1
        self.on = False
        self.limiting = False
        self.protected = False

    def switch(self, on: bool, why: str = "command") -> None:
        """Switch on or off; a fired protection holds it off."""
        if on and self.protected:
            return
        if on != self.on:
            self.on = on
            self._tell("output", output=self.number, on=on, why=why)
        if not on:
            self.limiting = False

    def step(self, seconds: float, volts: float, farads: float, steady: float, conductance: float) -> float:
        """Feed a reservoir at `volts` that draws `steady` amps plus a resistor's; give its volts afterwards."""
        drawn = steady + volts * conductance
        if not self.on:
            self.amps = 0.0
            self.limiting = False
            share = seconds / farads
            down = conductance + 1.0 / PULL_DOWN
            self.volts = max(0.0, (volts - share * steady) / (1.0 + share * down))
            return self.volts
        wanted = volts + (self.set_volts - volts) * seconds / (SETTLING + seconds)
        asked = steady + wanted * conductance + farads * (wanted - volts) / seconds
        # Limiting ends a little below the limit, so that a load at the limit does not chatter.
        self.limiting = asked > self.limit * (0.995 if self.limiting else 1.0)
        if self.limiting:
            share = seconds / farads
            limited = (volts + share * (self.limit - steady)) / (1.0 + share * conductance)
            self.volts = min(max(0.0, limited), max(wanted, volts))
            self.amps = self.limit
        else:
            self.volts = max(0.0, wanted)
            self.amps = max(0.0, drawn + farads * (wanted - volts) / seconds)
        if self.volts > self.protection:
            self.protected = True
            self.switch(False, "over-voltage protection")
        return self.volts
