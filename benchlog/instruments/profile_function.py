"""What an instrument can measure, and how far it can be off: the grammar of `[function.NAME]` tables."""

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass

from benchlog.domain.accuracy import FunctionError, MeterError, MeterRange
from benchlog.domain.quantity import symbol
from benchlog.domain.reading import Function
from benchlog.errors import BadInput
from benchlog.instruments import template
from benchlog.instruments.profile_reply import Reply
from benchlog.textfile import key

_Found = Iterator[tuple[str, str, str]]

SHOWS_DIGITS = ("decorated", "frame")
"""Forms of reply that show their last digit as the display does."""


@dataclass(frozen=True, slots=True)
class RangeSettings:
    """One range of a function, in the SI unit of its values."""

    top: float = key("its nominal top", low=1e-15, high=1e15)
    resolution: float | None = key("what one count of the last digit is worth", default=None, low=1e-18)
    accuracy: str = key("its error, such as 0.5%+2 or 0.002%+0.0005% of range", default="")
    command: str = key("what selects it, where set_range does not", default="")

    def faults(self) -> _Found:
        """The error can be read, and the command is one line."""
        yield from template.faults("command", self.command)
        yield from accuracy_faults("accuracy", self.accuracy)


@dataclass(frozen=True, slots=True)
class FunctionSettings:
    """How one function is set up and asked for, and what its readings are worth."""

    question: str = key("what asks for one reading", default="")
    set_up: tuple[str, ...] = key("commands that choose the function", default=())
    set_range: str = key("what selects a range, with {range} for its top", default="")
    ask_range: str = key("what asks for the range in use, answered by its top", default="")
    scale: float = key("factor from its number to the SI unit", default=1.0)
    settling: float = key("wait after the set-up", default=0.0, unit="s", low=0.0, high=60.0)
    deadline: float | None = key(
        "longest wait for an answer, where it differs", default=None, unit="s", low=0.01, high=600.0
    )
    frequency: float | None = key(
        "the test signal, for {frequency} in set_up", default=None, unit="Hz", low=1e-3, high=1e9
    )
    accuracy: str = key("its error on every range that states none; left out: unknown", default="")
    range: tuple[RangeSettings, ...] = key("its ranges", default=())
    reply: Reply | None = key("how its reading is written, where it differs", default=None)

    def faults(self) -> _Found:
        """Each command is one line; errors can be read; what is filled in is known."""
        yield from template.faults("question", self.question)
        for n, command in enumerate(self.set_up, 1):
            allowed = ("frequency",) if self.frequency is not None else ()
            yield from template.faults(f"set_up[{n}]", command, allowed)
            if not command:
                yield f"set_up[{n}]", "is empty", "leave it out"
        yield from template.faults("set_range", self.set_range, ("range",))
        if self.set_range and "{range}" not in self.set_range:
            yield "set_range", f'"{self.set_range}" does not say which range', "put {range} there"
        yield from template.faults("ask_range", self.ask_range)
        if self.scale == 0.0:
            yield "scale", "0 would make every reading zero", "write the factor to the SI unit"
        yield from accuracy_faults("accuracy", self.accuracy)
        tops = [one.top for one in self.range]
        if len(set(tops)) < len(tops):
            yield "range", "names one top twice", "list each range once"
        if self.reply and "dissipation" in self.reply.beside and self.frequency is None:
            yield "frequency", "is missing", "D means nothing without the hertz it was measured at"

    def unit_faults(self, function: Function) -> _Found:
        """Errors stated in a unit that is not this function's."""
        stated = [("accuracy", self.accuracy)]
        stated += [(f"range[{n}].accuracy", one.accuracy) for n, one in enumerate(self.range, 1)]
        for where, text in stated:
            with contextlib.suppress(BadInput):  # told already
                error = _parsed(text)
                if error is not None and error.unit and error.unit != function.unit:
                    problem = (
                        f'"{text}" is in {symbol(error.unit)}, and {function} is in {symbol(function.unit)}'
                    )
                    yield where, problem, f"write it in {symbol(function.unit)}"

    def count_faults(self, function: Function, form: str) -> _Found:
        """Counts of a last digit that nobody can tell: a reply of this form does not show it."""
        if form in SHOWS_DIGITS:
            return
        listed = any(one.resolution is not None for one in self.range)
        stated = [("accuracy", self.accuracy, listed)]
        stated += [
            (f"range[{n}].accuracy", one.accuracy, one.resolution is not None)
            for n, one in enumerate(self.range, 1)
        ]
        for where, text, known in stated:
            with contextlib.suppress(BadInput):  # told already
                error = _parsed(text)
                if error is not None and error.counts and error.resolution is None and not known:
                    problem = f'"{text}" counts a last digit, which a reply of form "{form}" does not tell'
                    fix = f"add resolution to [[function.{function}.range]], or write it here, as in 0.5%+2@0.01"
                    yield where, problem, fix

    def line_up(self, top: float | None, frequency: float | None) -> tuple[str, ...]:
        """The commands that choose the function, its test signal and, where one is wanted, the range."""
        hertz = frequency or self.frequency
        filling = {"frequency": template.number(hertz)} if hertz is not None else {}
        lines = tuple(template.fill(command, filling) for command in self.set_up)
        chosen = next((one for one in self.range if one.top == top), None)
        if chosen is not None and chosen.command:
            return (*lines, chosen.command)
        return (
            lines if top is None else (*lines, template.fill(self.set_range, {"range": template.number(top)}))
        )

    def range_for(self, wanted: float) -> float | None:
        """The top of the range to select for values up to `wanted`; None where none can be selected."""
        fits = [one.top for one in self.range if wanted <= one.top and (one.command or self.set_range)]
        return min(fits, default=None if self.range or not self.set_range else wanted)

    def error_of(self, function: Function, stated: MeterError | None = None) -> FunctionError:
        """What is known of its error; `stated` by whoever owns the meter takes the place of the profile's."""
        ranges = tuple(
            MeterRange(one.top, one.resolution, None if stated else _parsed(one.accuracy))
            for one in self.range
        )
        return FunctionError(function.unit, stated or _parsed(self.accuracy), ranges)


def accuracy_faults(where: str, text: str) -> _Found:
    """What is wrong with a meter's error as it is written; nothing where none is."""
    try:
        _parsed(text)
    except BadInput as error:
        yield where, f"{error.place} {error.problem}", error.fix


def _parsed(text: str) -> MeterError | None:
    return MeterError.parse(text) if text else None
