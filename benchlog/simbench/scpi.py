"""SCPI as an instrument lives it: headers in long and short form, compound lines, an error queue.

Standards: IEEE 488.2 for the common commands and the status bits, SCPI-1999 for headers and error numbers.
"""

import itertools
import re
from collections import deque
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass
from functools import partial

COMMAND_ERROR, EXECUTION_ERROR, DEVICE_ERROR, QUERY_ERROR, POWER_ON = 32, 16, 8, 4, 128
"""Bits of *ESR?."""
QUEUE_LENGTH = 20
UNDEFINED = (-113, "Undefined header")
MISSING = (-109, "Missing parameter")
WRONG_TYPE = (-104, "Data type error")
OUT_OF_RANGE = (-222, "Data out of range")
SUFFIX_OUT_OF_RANGE = (-114, "Header suffix out of range")
NOT_ALLOWED = (-224, "Illegal parameter value")

_NODE = re.compile(r"\[:?([A-Za-z]+):?\]|:?([A-Za-z]+)")
_DIGITS = re.compile(r"(?<=[A-Z])\d+(?=[:?]|$)")


@dataclass(frozen=True, slots=True)
class Call:
    """One command as it came: its arguments, and the numbers its header's words carried."""

    arguments: tuple[str, ...]
    suffixes: tuple[int, ...]

    def number(self, low: float, high: float) -> float:
        """The first argument as a number within limits; MIN and MAX mean those."""
        if not self.arguments:
            raise ScpiError(MISSING)
        word = self.arguments[0].upper()
        if word in {"MIN", "MINIMUM"}:
            return low
        if word in {"MAX", "MAXIMUM"}:
            return high
        try:
            value = float(word.removesuffix("V").removesuffix("A").removesuffix("OHM"))
        except ValueError:
            raise ScpiError(WRONG_TYPE) from None
        if not low <= value <= high:
            raise ScpiError(OUT_OF_RANGE)
        return value

    def channels(self) -> tuple[int, ...]:
        """The channel list, such as `(@1,2)`, or nothing."""
        for argument in self.arguments:
            if argument.startswith("(@") and argument.endswith(")"):
                inside = argument[2:-1].replace(":", ",").split(",")
                if all(one.strip().isdigit() for one in inside):
                    return tuple(int(one) for one in inside)
                raise ScpiError(WRONG_TYPE)
        return ()


class ScpiError(Exception):
    """An entry for the error queue."""

    def __init__(self, entry: tuple[int, str]) -> None:
        super().__init__(*entry)
        self.entry = entry


@dataclass(frozen=True, slots=True)
class Wait:
    """An answer that takes `seconds` of real time; `produce` is called when they are over."""

    seconds: float
    produce: Callable[[], str | None]


Handler = Callable[[Call], "str | Wait | None"]


def spellings(pattern: str) -> list[str]:
    """Every header that fits a pattern such as `MEASure[:SCALar]:VOLTage[:DC]?`, in upper case."""
    query = "?" if pattern.endswith("?") else ""
    choices = []
    for optional, needed in _NODE.findall(pattern):
        word = optional or needed
        forms = {"".join(letter for letter in word if letter.isupper()), word.upper()}
        choices.append([*sorted(forms), ""] if optional else sorted(forms))
    return [":".join(filter(None, words)) + query for words in itertools.product(*choices)]


class ScpiDevice:
    """An instrument that understands the common commands and those of its own vocabulary."""

    def __init__(self, identity: str, vocabulary: Mapping[str, Handler]) -> None:
        self._identity = identity
        self._errors: deque[tuple[int, str]] = deque()
        self._events = POWER_ON
        self._enabled = {"*ESE": 0, "*SRE": 0}
        self._handlers: dict[str, Handler] = {
            "*IDN?": lambda _: self._identity,
            "*RST": lambda _: self.reset(),
            "*CLS": self._clear,
            "*ESR?": self._take_events,
            "*STB?": lambda _: str(self._status()),
            "*OPC": self._complete,
            "*OPC?": lambda _: "1",
            "*WAI": lambda _: None,
            "*TST?": lambda _: "0",
            "*TRG": lambda _: None,
        }
        for name in self._enabled:
            self._handlers[name] = partial(self._enable, name)
            self._handlers[f"{name}?"] = partial(self._enabled_now, name)
        common: dict[str, Handler] = {
            "SYSTem:ERRor[:NEXT]?": self._next_error,
            "SYSTem:ERRor:COUNt?": lambda _: str(len(self._errors)),
            "SYSTem:VERSion?": lambda _: "1999.0",
            "SYSTem:REMote": lambda _: None,
            "SYSTem:LOCal": lambda _: None,
            "SYSTem:RWLock": lambda _: None,
            "SYSTem:BEEPer[:IMMediate]": lambda _: None,
            "ABORt": lambda _: None,
        }
        for pattern, handler in {**common, **vocabulary}.items():
            for spelling in spellings(pattern):
                self._handlers[spelling] = handler

    @property
    def mute(self) -> bool:
        """Whether no answer of it reaches anybody."""
        return False

    def reset(self) -> None:
        """Go back to how the instrument wakes up."""

    def complain(self, entry: tuple[int, str]) -> None:
        """Put an error into the queue; a full one ends with -350."""
        if len(self._errors) < QUEUE_LENGTH:
            self._errors.append(entry)
        else:
            self._errors[-1] = (-350, "Queue overflow")
        bits = {1: COMMAND_ERROR, 2: EXECUTION_ERROR, 3: DEVICE_ERROR, 4: QUERY_ERROR}
        self._events |= bits.get(-entry[0] // 100, DEVICE_ERROR)

    def execute(self, line: str) -> Generator[float, None, str | None]:
        """Carry out one line; yields the real seconds it must wait, returns the answer or None."""
        answers: list[str] = []
        path = ""
        for unit in _split(line, ";"):
            header, _, rest = unit.strip().partition(" ")
            if not header:
                continue
            try:
                handler, path, suffixes = self._find(header.upper(), path)
                answer = handler(
                    Call(tuple(part.strip() for part in _split(rest, ",") if part.strip()), suffixes)
                )
                if isinstance(answer, Wait):
                    yield answer.seconds
                    answer = answer.produce()
            except ScpiError as error:
                self.complain(error.entry)
                continue
            if answer is not None:
                answers.append(answer)
        return ";".join(answers) if answers else None

    def _find(self, header: str, path: str) -> tuple[Handler, str, tuple[int, ...]]:
        """Find a header as it stands, or below the path of the one before it."""
        if header.startswith("*"):
            handler = self._handlers.get(header)
            if handler is None:
                raise ScpiError(UNDEFINED)
            return handler, path, ()
        rooted = header.startswith(":")
        header = header.removeprefix(":")
        for full in (header,) if rooted or not path else (header, f"{path}:{header}"):
            suffixes = tuple(int(found) for found in _DIGITS.findall(full))
            handler = self._handlers.get(_DIGITS.sub("", full))
            if handler is not None:
                return handler, full.rpartition(":")[0], suffixes
        raise ScpiError(UNDEFINED)

    # --- common commands -------------------------------------------------------------------------

    def _clear(self, _call: Call) -> None:
        self._errors.clear()
        self._events = 0

    def _complete(self, _call: Call) -> None:
        self._events |= 1

    def _take_events(self, _call: Call) -> str:
        events, self._events = self._events, 0
        return str(events)

    def _enable(self, name: str, call: Call) -> None:
        self._enabled[name] = int(call.number(0, 255))

    def _enabled_now(self, name: str, _call: Call) -> str:
        return str(self._enabled[name])

    def _status(self) -> int:
        """The status byte: bit 2 errors waiting, bit 5 an enabled event, bit 6 their summary."""
        status = (4 if self._errors else 0) | (32 if self._events & self._enabled["*ESE"] else 0)
        return status | (64 if status & self._enabled["*SRE"] else 0)

    def _next_error(self, _call: Call) -> str:
        number, text = self._errors.popleft() if self._errors else (0, "No error")
        return f'{number:+d},"{text}"' if number else f'+0,"{text}"'


def _split(text: str, at: str) -> list[str]:
    """Split at a sign that stands neither in quotes nor in parentheses."""
    pieces, depth, quote, begin = [], 0, "", 0
    for place, sign in enumerate(text):
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign in "()":
            depth += 1 if sign == "(" else -1
        elif sign == at and depth <= 0:
            pieces.append(text[begin:place])
            begin = place + 1
    return [*pieces, text[begin:]]
