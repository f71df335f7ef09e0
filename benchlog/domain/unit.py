"""A unit on the bench: the file a person writes about it, and the records the library keeps of it.

The file names boards and their parts in reading order; everything else (visits, what is fitted
from one day to another, rounds and readings) comes into being at the bench.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import partial
from typing import ClassVar

from benchlog.domain.designator import Mirror, fold
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.measures import OPEN, Measure, asked_of, measure_of
from benchlog.domain.reading import Function, Outcome
from benchlog.errors import BadInput
from benchlog.textfile import key

Problem = tuple[str, str, str]


# --- the file ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PartEntry:
    """A part as a unit file lists it."""

    designator: str = key("R101, Q7L, +B1 or free text, unique on its board")
    kind: Kind = key("what kind of part it is")
    marking: str = key("what is printed on it", default="")
    should_read: str = key("nominal and tolerance, or limits: 4k7 5%, 12..15 mV", default="")
    from_: Origin = key("where that comes from", default=Origin.SHEET)
    function: Function | None = key("what it is measured with; left out: as its kind is", default=None)
    in_circuit: bool = key("whether it is measured on the board", default=True)
    measures: tuple[str, ...] = key(
        "what is to be measured at it: value, esr, leakage, be; left out: as is usual for its kind",
        default=(),
    )
    reads: dict[str, str] = key(
        "what else it should read, by what is measured: be, leakage", default_factory=dict
    )
    note: str = key("anything worth knowing at the bench", default="")

    @property
    def asked(self) -> tuple[Measure, ...]:
        """What is to be measured at it, in the order it is taken."""
        return asked_of(self.kind, self.measures, self.function)

    @property
    def measured_with(self) -> Function:
        """What it is measured with, and of several measures the first."""
        return self.asked[0].function

    @property
    def expectation(self) -> Expectation | None:
        """What it should read; None where nothing was said, `BadInput` where it cannot be read."""
        if not self.should_read:
            return None
        return self._meant_by_should_read[0].expected(self.kind, self.should_read, self.from_)

    @property
    def expectations(self) -> dict[str, Expectation]:
        """What was said of each measure, by its word; `BadInput` where one cannot be read."""
        own = self.expectation
        found = {one.word: own for one in self._meant_by_should_read} if own is not None else {}
        for word, text in self.reads.items():
            known, expectation = self._read(word, text)
            found[known] = expectation
        return found

    @property
    def _meant_by_should_read(self) -> tuple[Measure, ...]:
        """The part's own value; of a kind that has none, what is to be measured and conducts."""
        if self.function is not None or not self.asked[0].word:
            return self.asked[:1]
        return tuple(one for one in self.asked if one.limits != OPEN) or self.asked[:1]

    def faults(self) -> Iterator[Problem]:
        """What the single keys cannot tell: an empty name, an unknown measure, an expectation nobody can read."""
        if not self.designator.strip():
            yield "designator", "is empty", "give the part a name"
        yield from _faults("should_read", lambda: self.expectation)
        for number, word in enumerate(self.measures, start=1):
            yield from _faults(f"measures[{number}]", partial(measure_of, self.kind, word, self.function))
        for word, text in self.reads.items():
            yield from _faults(f"reads.{word}", partial(self._read, word, text))

    def _read(self, word: str, text: str) -> tuple[str, Expectation]:
        measure = measure_of(self.kind, word, self.function)
        return measure.word, measure.expected(self.kind, text, self.from_)


def _faults(place: str, act: Callable[[], object]) -> Iterator[Problem]:
    """What is wrong with the value of a key, as the act that reads it says."""
    try:
        act()
    except BadInput as error:
        for fault in error.faults:
            yield place, f"{fault.place} {fault.problem}", fault.fix


@dataclass(frozen=True, slots=True)
class BoardEntry:
    """A board as a unit file lists it."""

    name: str = key("as it is called at the bench")
    part: tuple[PartEntry, ...] = key("its parts, in the order they are read", default=())

    def faults(self) -> Iterator[Problem]:
        """A designator that stands twice on the board."""
        for designator, number in _twice(part.designator for part in self.part):
            yield (
                f"part[{number}].designator",
                f'"{designator}" stands on this board already',
                "name each part once",
            )


@dataclass(frozen=True, slots=True)
class UnitFile:
    """A unit file: the thing itself, its boards and their parts."""

    FILE: ClassVar[str] = "benchlog unit"
    VERSION: ClassVar[int] = 1

    name: str = key("as the operator calls it")
    maker: str = key("who built it", default="")
    model: str = key("as its maker called it; units of one model can be compared", default="")
    serial: str = key("its serial number", default="")
    mains: float | None = key("rated mains", default=None, unit="V", low=1.0, high=1000.0)
    complaint: str = key("what its owner says is wrong", default="")
    note: str = key("anything worth knowing", default="")
    mirror: tuple[str, ...] = key("rules for the same part on the other side: R1## <-> R2##", default=())
    pairs: dict[str, str] = key("mirror-image parts that no rule tells", default_factory=dict)
    board: tuple[BoardEntry, ...] = key("its boards", default=())

    def faults(self) -> Iterator[Problem]:
        """A name that is empty or stands twice, a mirror rule nobody can read."""
        if not self.name.strip():
            yield "name", "is empty", "give the unit a name"
        for number, board in enumerate(self.board, start=1):
            if not board.name.strip():
                yield f"board[{number}].name", "is empty", "give the board a name"
        for name, number in _twice(board.name for board in self.board):
            yield f"board[{number}].name", f'"{name}" stands here already', "name each board once"
        try:
            Mirror(self.mirror, self.pairs)
        except BadInput as error:
            for fault in error.faults:
                yield "mirror", f"{fault.place} {fault.problem}", fault.fix


def _twice(names: Iterator[str]) -> Iterator[tuple[str, int]]:
    """Each name that stands there before, with its place counted from 1; case and blanks do not count."""
    seen: set[str] = set()
    for number, name in enumerate(names, start=1):
        if fold(name) in seen:
            yield name, number
        seen.add(fold(name))


# --- what the library keeps ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Unit:
    """The thing that is restored; `mains` in V, `mirror` rules and `pairs` as in its file."""

    id: str
    name: str
    maker: str = ""
    model: str = ""
    serial: str = ""
    mains: float | None = None
    mirror: tuple[str, ...] = ()
    pairs: Mapping[str, str] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True)
class Visit:
    """One stay of a unit, intake to hand-over; `closed` is None while it is on the bench."""

    id: str
    unit: str
    number: int
    complaint: str
    mains: float | None
    opened: str
    closed: str | None = None

    @property
    def label(self) -> str:
        """How it is shown: `visit 0147`."""
        return f"visit {self.number:04d}"


@dataclass(frozen=True, slots=True)
class Board:
    """A board of a unit; `place` is its order, from 1."""

    id: str
    unit: str
    name: str
    place: int


@dataclass(frozen=True, slots=True)
class Part:
    """A place on a board with a designator; what is fitted there changes."""

    id: str
    board: str
    designator: str
    kind: Kind
    function: Function | None = None
    in_circuit: bool = True
    note: str = ""
    measures: tuple[str, ...] = ()
    """What is to be measured at it, by words; empty: as is usual for its kind."""

    @property
    def asked(self) -> tuple[Measure, ...]:
        """What is to be measured at it, in the order it is taken."""
        return asked_of(self.kind, self.measures, self.function)

    @property
    def measured_with(self) -> Function:
        """What it is measured with, and of several measures the first."""
        return self.asked[0].function

    def measure(self, word: str) -> Measure:
        """One of its measures, asked for or not."""
        return measure_of(self.kind, word, self.function)

    def called(self, word: str) -> str:
        """How one of its measures is called at the bench: `Q7L be`, and `R12` where it is the part's own value."""
        return f"{self.designator} {word}" if word else self.designator


@dataclass(frozen=True, slots=True)
class FittedItem:
    """What sits at a designator from one day to another; readings and expectations hang on it."""

    id: str
    part: str
    marking: str
    reason: str
    since: str
    until: str | None = None


class RoundKind(StrEnum):
    """What a pass over parts stands for."""

    AS_FOUND = "as found"
    WORKING = "working"
    AS_LEFT = "as left"


@dataclass(frozen=True, slots=True)
class Round:
    """One pass over parts of a unit; never overwritten; `ended` is None while it is under way."""

    id: str
    visit: str
    kind: RoundKind
    title: str
    started: str
    ended: str | None = None


@dataclass(frozen=True, slots=True)
class Conditions:
    """Under which a part was read; an empty text or None means it was not said.

    Attributes:
        circuit: `in circuit`, `lifted` or `out`.
        leads: `forward` or `reversed`.
        lid: `on` or `off`.
        volume, load: as set; the load as ohms or `none`.
        mains: at the inlet, V.
        minutes_on: since the unit was switched on.
        ambient: degC.
        frequency: of the meter's test signal, Hz.
        model: in which an LCR meter states its values: `series` or `parallel`.
        applied: volts put on the part through a resistor, for its leakage.
        minutes: since these volts were put on.
    """

    circuit: str = ""
    leads: str = ""
    lid: str = ""
    inputs_shorted: bool | None = None
    volume: str = ""
    load: str = ""
    mains: float | None = None
    minutes_on: float | None = None
    ambient: float | None = None
    frequency: float | None = None
    model: str = ""
    applied: float | None = None
    minutes: float | None = None


TYPED_JOB = "typed"
"""What stands in the place of a meter's job where a person typed the reading."""


@dataclass(frozen=True, slots=True)
class PartReading:
    """A reading of a part, as it is kept.

    Attributes:
        id: UUIDv7; a reading that comes again is known by it.
        value: in `unit` (SI); present exactly where `outcome` is OK.
        raw: the reply of the meter, or what was typed.
        taken: UTC ISO time.
        fitted, round, visit, session: ids; empty where there is none.
        job: of the meter on the bench; `typed` where a person read it off.
        resolution: the least digit of the range in use, in `unit`.
        negative: the sign of an overload.
        flags: the meter's annunciators.
        error: how far the meter can be off, either way, in `unit`; None where nobody has said.
        nulled: ohms of the leads that were taken off the value; None where none were.
        beside: what came with the value, by words of `reading.BESIDE`.
        measure: which of the part's measures it is of, by its word; empty: of the part's own value.
    """

    id: str
    designator: str
    function: Function
    outcome: Outcome
    value: float | None
    unit: str
    raw: str
    taken: str
    fitted: str = ""
    round: str = ""
    visit: str = ""
    session: str = ""
    job: str = ""
    resolution: float | None = None
    settled: bool = True
    typed: bool = False
    negative: bool = False
    flags: tuple[str, ...] = ()
    error: float | None = None
    nulled: float | None = None
    beside: tuple[tuple[str, float], ...] = ()
    conditions: Conditions = Conditions()
    measure: str = ""
