"""How to talk to one kind of instrument: the grammar of a profile file.

A profile is data. Nothing in it is run: commands are literal text with placeholders, identities
and error answers are globs, replies are read by one of a closed list of forms.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields
from fnmatch import fnmatchcase
from itertools import chain
from pathlib import Path
from typing import ClassVar

from benchlog import resources, textfile
from benchlog.domain.reading import Function
from benchlog.errors import BadInput
from benchlog.instruments import template
from benchlog.instruments.profile_function import FunctionSettings
from benchlog.instruments.profile_reply import Reply
from benchlog.instruments.profile_supply import Supply
from benchlog.textfile import did_you_mean, key

KINDS = ("meter", "stream", "supply")

_NAME = re.compile(r"[A-Za-z0-9_-]{1,64}")
_Found = Iterator[tuple[str, str, str]]


@dataclass(frozen=True, slots=True)
class Serial:
    """Settings of a serial port; line states are set before it is opened."""

    baud: int = key("bits per second", default=9600, low=50, high=4_000_000)
    bits: int = key("data bits", default=8, low=5, high=8)
    parity: str = key("parity", default="none", choices=("none", "even", "odd", "mark", "space"))
    stop: float = key("stop bits: 1, 1.5 or 2", default=1.0, low=1.0, high=2.0)
    dtr: bool = key("level of the DTR line", default=True)
    rts: bool = key("level of the RTS line", default=True)

    def faults(self) -> _Found:
        """Stop bits come in halves."""
        if self.stop not in (1.0, 1.5, 2.0):
            yield "stop", f"{self.stop:g} is out of bounds", "write 1, 1.5 or 2"


@dataclass(frozen=True, slots=True)
class Wire:
    """How lines end, and how long an answer may take. All times are real seconds."""

    send_end: str = key("what ends a line we send", default="\n")
    reply_end: str = key("what ends a line of the instrument", default="\n")
    deadline: float = key("longest wait for an answer", default=3.0, unit="s", low=0.01, high=120.0)
    connect: float = key("longest wait for a connection", default=2.0, unit="s", low=0.05, high=30.0)
    quiet: float = key("silence that ends a drain", default=0.1, unit="s", low=0.01, high=2.0)
    interval: float = key("shortest time between questions", default=0.0, unit="s", low=0.0, high=3600.0)
    connections: int = key("network connections accepted at once", default=1, low=1, high=64)
    longest_line: int = key("longest line it ever sends, in bytes", default=4096, low=16, high=1 << 20)
    serial: Serial = key("the serial port", default_factory=Serial)

    def faults(self) -> _Found:
        """Line ends are one to four ASCII characters."""
        for name, end in (("send_end", self.send_end), ("reply_end", self.reply_end)):
            if not 1 <= len(end) <= 4 or not end.isascii():
                yield name, "is not one to four ASCII characters", 'as in "\\n" or "\\r\\n"'


@dataclass(frozen=True, slots=True)
class Identity:
    """The question that every instrument of this kind answers the same way, at any time."""

    question: str = key("the question", default="*IDN?")
    answer: str = key("a glob its answer must match", default="*,*,*,*")

    def faults(self) -> _Found:
        """The question is one line, the glob short."""
        yield from template.faults("question", self.question)
        yield from template.faults("answer", self.answer)


@dataclass(frozen=True, slots=True)
class ErrorQueue:
    """Where the instrument says which command it did not take."""

    question: str = key("the question", default="SYST:ERR?")
    none: tuple[str, ...] = key("globs of the answer that means none", default=("0,*", "+0,*"))
    clear: str = key("what empties the queue", default="")

    def faults(self) -> _Found:
        """Each command is one line; without an answer that means none it would never end."""
        yield from template.faults("question", self.question)
        yield from template.faults("clear", self.clear)
        for n, glob in enumerate(self.none, 1):
            yield from template.faults(f"none[{n}]", glob)
        if not self.none:
            yield "none", "is empty", 'as in ["0,*", "+0,*"]'

    def says_none(self, answer: str) -> bool:
        """Whether an answer means that the queue is empty."""
        return any(fnmatchcase(answer, glob) for glob in self.none)


@dataclass(frozen=True, slots=True)
class ProfileFile:
    """One kind of instrument: asked (`meter`), free-running (`stream`) or a source (`supply`)."""

    FILE: ClassVar[str] = "benchlog profile"
    VERSION: ClassVar[int] = 1

    name: str = key("what kind of instrument this is, in words")
    kind: str = key("meter, stream or supply", choices=KINDS)
    link: Wire = key("lines and times", default_factory=Wire)
    identity: Identity | None = key("how it says what it is", default=None)
    errors: ErrorQueue | None = key("its error queue", default=None)
    reply: Reply = key("how its readings are written", default_factory=Reply)
    function: dict[str, FunctionSettings] = key("its functions by code word", default_factory=dict)
    supply: Supply | None = key("its commands, where it is a supply", default=None)

    def faults(self) -> _Found:
        """What each kind needs, and words that must be functions."""
        for name in self.function:
            if name not in tuple(Function):
                known = did_you_mean(name, Function) or f"one of: {', '.join(Function)}"
                yield f"function.{name}", f'"{name}" is not a function', known
        if self.kind == "supply" and self.supply is None:
            yield "supply", "is missing", "a supply needs its commands"
        if self.kind != "supply" and self.supply is not None:
            yield "supply", f'has no place in a profile of kind "{self.kind}"', 'write kind = "supply"'
        if self.kind == "meter":
            yield from self._meter_faults()
        if self.kind == "stream":
            yield from self._stream_faults()
        for where, reply in self._replies():
            if self.kind != "stream" and reply.form == "frame":
                yield f"{where}.form", "frames come unasked", 'write kind = "stream"'
        for name, settings in self.function.items():
            if name in tuple(Function):
                form = (settings.reply or self.reply).form
                found = settings.unit_faults(Function(name)), settings.count_faults(Function(name), form)
                for where, problem, fix in chain(*found):
                    yield f"function.{name}.{where}", problem, fix

    def _replies(self) -> Iterator[tuple[str, Reply]]:
        """Every way of writing a reading, with its place in the file."""
        yield "reply", self.reply
        for name, settings in self.function.items():
            if settings.reply:
                yield f"function.{name}.reply", settings.reply

    def _meter_faults(self) -> _Found:
        if not self.function:
            yield "function", "is missing", "add a table such as [function.volts_dc]"
        for name, settings in self.function.items():
            if not settings.question:
                yield f"function.{name}.question", "is missing", "write what asks for one reading"

    def _stream_faults(self) -> _Found:
        if not self.reply.names_functions and len(self.function) != 1:
            fix = "name functions in reply.units, or add one table such as [function.volts_dc]"
            yield "function", "is not told by the lines", fix

    @property
    def functions(self) -> tuple[Function, ...]:
        """What it can measure, in the order of the file."""
        if self.supply is not None:
            return (Function.VOLTS_DC, Function.AMPS_DC, Function.STATE)
        told = [word.function for word in self.reply.units.values() if word.function]
        names = [*self.function, *(told if self.kind == "stream" else [])]
        return tuple(Function(name) for name in dict.fromkeys(names))


@dataclass(frozen=True, slots=True)
class Profile(ProfileFile):
    """A profile as read from its file; `text` is the whole file, as a session keeps it."""

    text: str = field(default="", kw_only=True)

    @property
    def outputs(self) -> tuple[str, ...]:
        """Names of a supply's outputs; none for a meter."""
        return self.supply.outputs if self.supply else ()

    def off_line(self) -> str:
        """The one line, with its end, that switches every output of a supply off; empty for a meter."""
        return self.supply.off_line() + self.link.send_end if self.supply else ""

    def off_recipe(self) -> tuple[str, str, str, list[str]]:
        """How to cut without this program.

        Line to send, question, answers that mean all is off (`|` between), a question for each output's volts.
        """
        supply = self.supply
        if supply is None:
            return "", "", "", []
        question, answer = supply.off_question()
        volts = [
            supply.for_one(supply.measure_volts, output) + self.link.send_end for output in supply.outputs
        ]
        return self.off_line(), question + self.link.send_end, answer, volts


def parse_profile(text: str, name: str) -> Profile:
    """A profile from its text; `name` is the file name shown in faults."""
    made = textfile.parse(text, name, ProfileFile)
    values = {one.name: getattr(made, one.name) for one in fields(made)}
    return Profile(text=text, **values)


def find_profile(name: str, folders: Sequence[Path] = ()) -> Profile:
    """The profile of that name: from the first of `folders` that has it, else the shipped one."""
    path = profile_path(name, folders)
    return parse_profile(textfile.read_text(path), path.name)


def profile_path(name: str, folders: Sequence[Path] = ()) -> Path:
    """Where the profile of that name lies; `BadInput` with the nearest name where it does not exist."""
    searched = [*folders, resources.path("profiles")]
    if _NAME.fullmatch(name):
        for folder in searched:
            path = folder / f"{name}.toml"
            if path.is_file():
                return path
    known = sorted({path.stem for folder in searched for path in folder.glob("*.toml")})
    fix = did_you_mean(name, known) or f"there are: {', '.join(known)}"
    raise BadInput("profile", f'there is no profile "{ascii(name)[1:-1]}"', fix)
