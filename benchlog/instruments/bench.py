"""The instruments in use and the off-switches: the grammar of a bench file."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import ClassVar

from benchlog import textfile
from benchlog.domain.accuracy import MeterError
from benchlog.domain.leads import LeadNull
from benchlog.domain.rating import fit_for_mains
from benchlog.domain.reading import Function
from benchlog.domain.sixnumbers import MeterAtHand
from benchlog.errors import BadInput, BenchlogError, Fault
from benchlog.instruments.address import Address, parse_address
from benchlog.instruments.bench_check import check
from benchlog.instruments.profile import find_profile
from benchlog.textfile import key

_Found = Iterator[tuple[str, str, str]]

DAYS_A_MONTH = 365.25 / 12

ISOLATED = ("yes", "no", "unknown")
SWITCHES = ("supply", "relay", "hand")
HOLDS = ("pump", "rts", "dtr")
LEVELS = ("high", "low")
PEDAL_LINES = ("cts", "dsr")
PEDAL_ACTS = ("cut", "take", "skip", "undo")
CONTACTS = ("closed", "open")
FEEDS = ("dtr", "rts", "none")
_NAMED_FOR_MAINS = ("lamp", "mains")


@dataclass(frozen=True, slots=True)
class MeterEntry:
    """A meter by its job: what it is clipped to, or a walking meter where no function is given."""

    job: str = key("its unique label")
    profile: str = key("how to talk to it: the name of a profile")
    address: str = key("where it is")
    function: Function | None = key("what it measures; left out: a walking meter", default=None)
    interval: float | None = key(
        "time between questions; left out: as fast as it answers",
        default=None,
        unit="s",
        low=0.0,
        high=3600.0,
    )
    clipped_to: str = key("where its leads are", default="")
    link_isolated: str = key(
        "whether its link is isolated from its input", default="unknown", choices=ISOLATED
    )
    rating: str = key("its input's rating, such as CAT II 300 V", default="")
    error: str = key(
        "its error in every function, such as 0.5%+2@0.1; left out: as its profile says", default=""
    )
    errors: dict[str, str] = key("its error by function, where it differs", default_factory=dict)
    range: float | None = key(
        "the range to stay on, in the unit of its function; left out: it chooses", default=None, low=1e-15
    )
    test_frequency: float | None = key(
        "its test signal; left out: as its profile says", default=None, unit="Hz", low=1e-3, high=1e9
    )
    calibrated: date | None = key("when it was last calibrated or compared", default=None)
    calibrate_every: float = key("how long that holds", default=12.0, unit="months", low=0.1, high=600.0)
    null: LeadNull | None = key("what its shorted leads read on ohms, and when", default=None)

    @property
    def parsed_address(self) -> Address:
        """Where it is."""
        return parse_address(self.address, self.job)

    def error_in(self, function: Function) -> MeterError | None:
        """The bound of its error in a function; None where this bench does not say."""
        text = self.errors.get(function, self.error)
        return MeterError.parse(text) if text else None

    def overdue(self, today: date) -> str:
        """What is to be said where it is due for calibration by its own date; empty where not, or nobody said."""
        if self.calibrated is None:
            return ""
        days = (today - self.calibrated).days
        if days <= self.calibrate_every * DAYS_A_MONTH:
            return ""
        return f"was last calibrated on {self.calibrated}, longer ago than {self.calibrate_every:g} months"


@dataclass(frozen=True, slots=True)
class SupplyEntry:
    """A programmable supply by its job; `cut_address` is where a cut alone is sent."""

    job: str = key("its unique label")
    profile: str = key("how to talk to it: the name of a profile")
    address: str = key("where it is")
    cut_address: str = key(
        "a connection for the cut alone; left out: a second one to address, or the only one it takes",
        default="",
    )
    interval: float = key("time between rounds of reading", default=0.1, unit="s", low=0.0, high=60.0)

    @property
    def parsed_address(self) -> Address:
        """Where it is."""
        return parse_address(self.address, self.job)

    @property
    def cut(self) -> Address:
        """Where a cut is sent."""
        return parse_address(self.cut_address or self.address, self.job)


@dataclass(frozen=True, slots=True)
class OffSwitchEntry:
    """A way of switching off: a supply of this bench, a relay on a serial line, or the hand."""

    kind: str = key("supply, relay or hand", choices=SWITCHES)
    job: str = key("its label; left out: the supply's, or the kind", default="")
    address: str = key("the relay's serial port", default="")
    supply: str = key("the supply's job; left out: the only one", default="")
    line: str = key(
        "what holds the relay in: pump, bytes at a beat; or the level of a line, second best",
        default="pump",
        choices=HOLDS,
    )
    level: str = key(
        "the level of rts or dtr that holds the relay in; a dead program holds low",
        default="high",
        choices=LEVELS,
    )
    beat: float = key("time between bytes to a pumped relay", default=0.05, unit="s", low=0.002, high=1.0)
    drop_out: float = key("time until the relay drops", default=0.5, unit="s", low=0.0, high=10.0)

    def faults(self) -> _Found:
        """A pump needs several beats within its drop-out; what one kind needs has no place in another."""
        if self.kind == "relay" and self.line == "pump" and self.level != "high":
            yield "level", "has no place on a pumped line", "leave it out, or write line = rts or dtr"
        if self.kind != "relay" and self.line != "pump":
            yield "line", f"has no place where the kind is {self.kind}", "leave it out"
        if self.kind == "relay" and self.line == "pump" and self.drop_out < 2 * self.beat:
            yield "drop_out", "is shorter than two beats, so the relay would chatter", "shorten beat"
        if self.kind == "relay" and not self.address:
            yield "address", "is missing", "name the relay's serial port"
        if self.kind != "relay" and self.address:
            yield "address", f"has no place where the kind is {self.kind}", "leave it out"
        if self.kind != "supply" and self.supply:
            yield "supply", f"has no place where the kind is {self.kind}", "leave it out"

    @property
    def parsed_address(self) -> Address:
        """The relay's port."""
        return parse_address(self.address, self.job)

    @property
    def held_by_level(self) -> bool:
        """Whether a level holds the relay in, which a program that hangs goes on doing."""
        return self.kind == "relay" and self.line != "pump"

    @property
    def rests_high(self) -> frozenset[str]:
        """The lines that are high while the relay is out."""
        return frozenset({self.line} if self.held_by_level and self.level == "low" else ())


@dataclass(frozen=True, slots=True)
class PedalEntry:
    """A pedal or mushroom switch between two lines of a serial port; it works whatever window has the keys."""

    job: str = key("its unique label")
    address: str = key("its serial port, which may be that of a relay")
    line: str = key("the line it is read on", default="cts", choices=PEDAL_LINES)
    does: str = key("what pressing it does; cut only ever cuts", default="cut", choices=PEDAL_ACTS)
    pressed: str = key(
        "its contact while it is pressed; open: a broken wire counts as pressed",
        default="closed",
        choices=CONTACTS,
    )
    feed: str = key("the line held high to feed it; none: fed otherwise", default="dtr", choices=FEEDS)

    @property
    def parsed_address(self) -> Address:
        """Its port."""
        return parse_address(self.address, self.job)

    @property
    def fails_to_cut(self) -> bool:
        """Whether a wire that breaks, or a port that is lost, counts as a cut."""
        return self.does == "cut" and self.pressed == "open"


@dataclass(frozen=True, slots=True)
class Bench:
    """Every instrument in use, each by its job, and every off-switch."""

    FILE: ClassVar[str] = "benchlog bench"
    VERSION: ClassVar[int] = 1

    name: str = key("what the bench is called")
    meter: tuple[MeterEntry, ...] = key("the meters", default=())
    supply: tuple[SupplyEntry, ...] = key("the supplies", default=())
    off_switch: tuple[OffSwitchEntry, ...] = key("the off-switches", default=())
    pedal: tuple[PedalEntry, ...] = key("the pedals", default=())


def parse(text: str, name: str, folders: Sequence[Path] = ()) -> Bench:
    """A bench from its text; `BadInput` with every fault, those of its addresses and profiles too.

    `name` is the file name shown; profiles are looked for in `folders`, first to last, then among
    the shipped ones. Off-switches come back with their job and supply filled in.
    """
    faults: list[Fault] = []
    bench: Bench | None = None
    try:
        bench = textfile.parse(text, name, Bench)
    except BadInput as error:
        faults.extend(error.faults)
    if not any(fault.place == f"{name}: file" for fault in faults):
        faults.extend(check(text, name, folders))
    if faults or bench is None:
        raise BadInput.of(faults)
    only = bench.supply[0].job if len(bench.supply) == 1 else ""
    return replace(bench, off_switch=tuple(_filled(entry, only) for entry in bench.off_switch))


def _filled(entry: OffSwitchEntry, only: str) -> OffSwitchEntry:
    supply = (entry.supply or only) if entry.kind == "supply" else ""
    return replace(entry, supply=supply, job=entry.job or supply or entry.kind)


# --- for a plan that is made ------------------------------------------------------------------------


def meters_at_hand(bench: Bench, folders: Sequence[Path] = ()) -> tuple[MeterAtHand, ...]:
    """Every meter of a bench; profiles are looked for in `folders`, then among the shipped ones."""
    return tuple(
        MeterAtHand(entry.job, entry.function, _mains_side(entry), _handheld(entry, folders))
        for entry in bench.meter
    )


def clipped(meters: Sequence[MeterAtHand]) -> tuple[MeterAtHand, ...]:
    """Those that stay where they are: a walking meter is for the hands, where there is any other."""
    return tuple(meter for meter in meters if meter.function is not None) or tuple(meters)


def switched_by(bench: Bench) -> str:
    """What switches a unit that is fed from the mains, by its job: a relay before a hand; empty where neither is."""
    for kind in ("relay", "hand"):
        for entry in bench.off_switch:
            if entry.kind == kind:
                return entry.job or (kind if kind == "relay" else "")
    return ""


def feeds_board(bench: Bench) -> str:
    """The job of the one supply of a bench; empty where there is none, or nobody can tell which of several."""
    jobs = [entry.job for entry in bench.supply]
    return jobs[0] if len(jobs) == 1 else ""


def _mains_side(entry: MeterEntry) -> bool:
    """Whether it may be put on the mains side.

    One that was named for that by a person is taken at its word as long as nothing speaks against it, and
    the plan check asks; no other is put there before somebody has said that its link is isolated.
    """
    if entry.link_isolated == "no" or fit_for_mains(entry.rating) is False:
        return False
    told = entry.link_isolated == "yes" and bool(fit_for_mains(entry.rating))
    return told or entry.job.casefold() in _NAMED_FOR_MAINS


def _handheld(entry: MeterEntry, folders: Sequence[Path]) -> bool:
    try:
        return find_profile(entry.profile, folders).kind == "stream"
    except BenchlogError:
        return True  # It arms later then: nothing trips because a display was still settling.
