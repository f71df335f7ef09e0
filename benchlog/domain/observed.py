"""What a person sees, hears, smells or feels at a live unit: told by one key, timed, and awaited by a stage."""

from enum import StrEnum


class Observation(StrEnum):
    """What is told most, in the order of its keys."""

    HUM = "hum"
    SMELL = "smell"
    CLICK = "relay click"
    DARK = "lamp dark"
    GLOWS = "lamp glows"
    HALF = "lamp half"
    FULL = "lamp full"
    WARM = "warm"
    TOO_HOT = "too hot"

    @property
    def suggests_off(self) -> bool:
        """Whether it is reason enough to switch off; a person decides that, never the program."""
        return self in (Observation.SMELL, Observation.TOO_HOT)


LAMP = frozenset({Observation.DARK, Observation.GLOWS, Observation.HALF, Observation.FULL})
"""Of these the last one told holds alone."""
