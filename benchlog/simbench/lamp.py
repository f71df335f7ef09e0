"""The series lamp: a tungsten filament that warms up."""

COLD_RATIO = 15.0
"""Hot resistance over cold: about 15 for tungsten between 300 K and 2800 K (Forsythe and Worthing 1925)."""
CURRENT_EXPONENT = 0.55
"""I ~ V^0.55 between a twentieth of the rated volts and all of them (the lamp rerating power)."""
WARMING = 0.12
"""Seconds in which the filament follows the power put into it: a flash lasts a tenth of a second or more."""
SIZES = (40.0, 60.0, 100.0, 150.0, 0.0)
"""Watts of the lamps that lie ready; 0 is a plain wire in a lamp's place."""

_POWER_EXPONENT = 1.0 + CURRENT_EXPONENT
_RESISTANCE_EXPONENT = (1.0 - CURRENT_EXPONENT) / _POWER_EXPONENT
"""From I ~ V^0.55 follow P ~ V^1.55 and R ~ V^0.45, so R ~ P^(0.45/1.55)."""


class Filament:
    """A lamp of so many watts at so many volts; `ohms` is what it stands at just now."""

    def __init__(self, watts: float, rated_volts: float) -> None:
        self.watts = watts
        self._hot = rated_volts * rated_volts / watts
        self._cold = self._hot / COLD_RATIO
        self._heat = 0.0
        self.ohms = self._cold

    def step(self, seconds: float, volts: float) -> None:
        """Let `seconds` pass with `volts` across it."""
        power = volts * volts / self.ohms
        self._heat += (power - self._heat) * seconds / (WARMING + seconds)
        self.ohms = max(self._cold, self._hot * self.bright**_RESISTANCE_EXPONENT)

    @property
    def bright(self) -> float:
        """Its power as a fraction of what it is rated for."""
        return self._heat / self.watts

    @property
    def glow(self) -> str:
        """How it looks: dark below 12 % of its rated volts, half at 55 %, full above 85 %."""
        # P ~ V^1.55, so the fractions of volts are turned into fractions of power.
        bright = self.bright
        for word, fraction in (("dark", 0.12), ("glow", 0.45), ("half", 0.85)):
            if bright < fraction**_POWER_EXPONENT:
                return word
        return "full"
