"""Which range an autoranging meter is on: asked back, and asked anew where a reading makes it doubtful."""

from benchlog.domain.reading import Function, Reading
from benchlog.instruments.decode import scpi
from benchlog.instruments.profile_function import FunctionSettings

LOWEST = 0.1
"""Below this share of its top a meter may have gone a range down (common practice, no source)."""

ALIKE = 2.0
"""A reading within this factor of the one at which the range was asked does not ask it again."""


class RangeTold:
    """The range in use: `fixed` where one was selected, else as the meter last said.

    Attributes:
        question: what asks for it; empty where it is fixed, or cannot be asked.
    """

    def __init__(self, settings: FunctionSettings, fixed: float | None, *, wanted: bool) -> None:
        """`wanted` says whether anything depends on it; else it is never asked."""
        self.question = settings.ask_range if fixed is None and wanted else ""
        self._fixed = fixed
        self._scale = settings.scale
        self._told: float | None = None
        self._at = 0.0
        """Size of the reading at which it was asked last."""

    def of(self, reading: Reading) -> float | None:
        """The top of the range a reading was taken on; None where it is not known.

        A reading past the top told last may be of the next range, unless the meter said so at one like it.
        """
        if self._fixed is not None or self._told is None or reading.value is None:
            return self._fixed
        size = abs(reading.value)
        return self._told if size <= self._told or size <= 1.001 * self._at else None

    def doubtful(self, reading: Reading) -> bool:
        """Whether the range must be asked after this reading."""
        if not self.question or reading.value is None:
            return False
        size = abs(reading.value)
        if self._told is None or (size > self._told and size > 1.001 * self._at):
            alike = False
        else:
            alike = size >= LOWEST * self._told or self._at / ALIKE <= size <= self._at * ALIKE
        if not alike:
            self._at = size
        return not alike

    def take(self, answer: str) -> None:
        """The meter's answer; one that is no range is the last one asked for."""
        made = scpi(answer, Function.STATE, 0)
        if made.value is None or made.value <= 0.0:
            self.give_up()
        else:
            self._told = made.value * abs(self._scale)

    def give_up(self) -> None:
        """The meter does not say: it reads on, and its range is not known."""
        self.question, self._told = "", None
