"""What is known of one meter besides its replies: how far it can be off, what its leads add, how it is to be set."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from benchlog.domain.accuracy import FunctionError, MeterError
from benchlog.domain.leads import LeadNull
from benchlog.domain.quantity import tidy
from benchlog.domain.reading import Function, Reading
from benchlog.instruments.profile import Profile
from benchlog.instruments.profile_function import FunctionSettings


@dataclass(frozen=True, slots=True)
class Sheet:
    """A meter's errors by function, and its lead null.

    Attributes:
        errors: of the functions of which anything is known.
        frequency: the Hz of the test signal by function, where the set-up says it.
        range: the function that stays on a range, and the top wanted there.
        null: ohms of the leads; `null_ends` is the monotonic ns from which it no longer holds.
    """

    errors: Mapping[Function, FunctionError] = field(default_factory=dict)
    frequency: Mapping[Function, float] = field(default_factory=dict)
    range: tuple[Function, float] | None = None
    null: float | None = None
    null_ends: int = 0

    @classmethod
    def of(
        cls,
        profile: Profile,
        stated: Mapping[Function, MeterError] | None = None,
        frequency: float | None = None,
        range_: tuple[Function, float] | None = None,
    ) -> "Sheet":
        """What a profile says, and above it what the owner of the meter has `stated` for a function."""
        own = stated or {}
        plain = FunctionSettings()
        errors, hertz = {}, {}
        for function in profile.functions:
            settings = profile.function.get(function, plain)
            error = settings.error_of(function, own.get(function))
            if error.error is not None or error.ranges:
                errors[function] = error
            if settings.frequency is not None:
                hertz[function] = frequency or settings.frequency
        return cls(errors, hertz, range_)

    def range_in(self, function: Function | None) -> float | None:
        """The top of the range to stay on; None where the meter chooses."""
        return self.range[1] if self.range is not None and self.range[0] is function else None

    def needs_range(self, function: Function | None) -> bool:
        """Whether the error of a function cannot be told without the range in use."""
        known = self.errors.get(function) if function is not None else None
        return known is not None and known.needs_range

    def frequency_in(self, function: Function | None) -> float | None:
        """The test signal to set, Hz; None where nobody says."""
        return self.frequency.get(function) if function is not None else None

    def nulled(self, null: LeadNull | None, now: int | None = None) -> "Sheet":
        """The same with the leads nulled, for as long as that holds; `now` is monotonic ns."""
        if null is None:
            return replace(self, null=None, null_ends=0)
        left = null.left(datetime.now(UTC)).total_seconds()
        ends = (time.monotonic_ns() if now is None else now) + round(left * 1e9)
        return replace(self, null=null.value, null_ends=ends)

    def complete(self, reading: Reading, top: float | None = None) -> Reading:
        """A reading with its meter's error, its last digit, and without its leads; `top` is the range in use.

        The leads are taken off two-wire ohms alone; the error is that of the meter, which saw them too.
        """
        value, function = reading.value, reading.function
        if value is None:
            return reading
        known = self.errors.get(function)
        if known is not None:
            error, digit = known.of(value, reading.resolution, top)
            if error is not None or digit != reading.resolution:
                reading = reading._replace(error=error, resolution=digit)
        if function is Function.OHMS and self.null is not None and reading.at < self.null_ends:
            reading = reading._replace(value=tidy(value - self.null), nulled=self.null)
        hertz = self.frequency.get(function)
        return reading if hertz is None else reading._replace(beside=(*reading.beside, ("frequency", hertz)))
