"""Bench files: read with every fault, changed entry by entry, written, and kept in the library. No Qt.

Files are touched here; call it from a worker.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from benchlog import resources, textfile
from benchlog.domain.reading import Function
from benchlog.errors import BadInput, BenchlogError, Fault, Full
from benchlog.instruments import bench as benches
from benchlog.instruments.bench import Bench, MeterEntry, OffSwitchEntry, PedalEntry, SupplyEntry
from benchlog.instruments.profile import find_profile

BENCHES = "benches"
"""The folder of benches within a library."""

Entry = MeterEntry | SupplyEntry | OffSwitchEntry | PedalEntry
_OWN_PLACE = re.compile(r"(?P<table>meter|supply|off_switch|pedal)\[(?P<number>\d+)\]\.?(?P<key>\w*)")
_ENTRY = re.compile(r"\b(?:meter|supply|off_switch|pedal)\[\d+\]")
"""An entry as a file counts it, which nobody sees in a form."""
_LONGEST_NAME = 60
_TAKEN_BY_WINDOWS = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)


class Table(StrEnum):
    """The lists of a bench, by their keys in the file."""

    METER = "meter"
    SUPPLY = "supply"
    OFF_SWITCH = "off_switch"
    PEDAL = "pedal"


_OF_ENTRY = {
    MeterEntry: Table.METER,
    SupplyEntry: Table.SUPPLY,
    OffSwitchEntry: Table.OFF_SWITCH,
    PedalEntry: Table.PEDAL,
}


@dataclass(frozen=True, slots=True)
class Spot:
    """Which entry of a bench: the list it stands in and its place there, from 0."""

    table: Table
    at: int


@dataclass(frozen=True, slots=True)
class Draft:
    """A bench at hand.

    Attributes:
        bench: its entries.
        text: the file as it was read, or as it is written since something was changed.
        name: how its file is called in messages.
        path: where it is kept in the library; None where it is not.
        faults: what keeps it from being attached.
        saved: whether its file holds just this text.
    """

    bench: Bench
    text: str = ""
    name: str = "bench.toml"
    path: Path | None = None
    faults: tuple[Fault, ...] = ()
    saved: bool = False

    @property
    def empty(self) -> bool:
        """Whether nothing stands on it."""
        bench = self.bench
        return not (bench.meter or bench.supply or bench.off_switch or bench.pedal)

    def faults_of(self, spot: Spot) -> tuple[Fault, ...]:
        """What is wrong with one entry."""
        return tuple(fault for fault in self.faults if spot_of(fault) == spot)


def spot_of(fault: Fault) -> Spot | None:
    """Which entry a fault is about; None where it is about the file or another one."""
    found = _OWN_PLACE.search(fault.place.partition(": ")[2])
    return Spot(Table(found["table"]), int(found["number"]) - 1) if found else None


def key_of(fault: Fault) -> str:
    """Which key of its entry a fault is about, empty where that is not said."""
    found = _OWN_PLACE.search(fault.place.partition(": ")[2])
    return found["key"] if found else ""


def in_words(faults: tuple[Fault, ...], names: dict[str, str], job: str) -> tuple[Fault, ...]:
    """Faults of the entry of that job, named as its form names the fields."""

    def place(fault: Fault) -> str:
        own = job if spot_of(fault) is not None and job else fault.place
        return names.get(key_of(fault), own)

    return tuple(
        Fault(place(fault), _ENTRY.sub("another instrument", fault.problem), fault.fix) for fault in faults
    )


# --- reading -------------------------------------------------------------------------------------


def read(text: str, name: str, folders: Sequence[Path]) -> Draft:
    """A bench file; one whose addresses or profiles do not serve yet can be opened and mended all the same.

    `BadInput` with every fault where its keys cannot be read.
    """
    try:
        return Draft(benches.parse(text, name, folders), text, name, saved=True)
    except BadInput as error:
        try:
            bench = textfile.parse(text, name, Bench)
        except BadInput:
            raise error from None
        return Draft(bench, text, name, faults=error.faults, saved=True)


def read_path(path: Path, folders: Sequence[Path], kept: Path) -> Draft:
    """The same from a file; one below `kept`, the library's folder, is saved there again."""
    draft = read(textfile.read_text(path), path.name, folders)
    return replace(draft, path=path) if path.parent == kept else draft


def anew(draft: Draft, bench: Bench, folders: Sequence[Path]) -> Draft:
    """The draft with other entries: written and judged again."""
    text = textfile.write(bench)
    if not (bench.meter or bench.supply or bench.off_switch):
        return replace(draft, bench=bench, text=text, faults=(), saved=False)
    read_again = read(text, draft.name, folders)
    return replace(draft, bench=read_again.bench, text=text, faults=read_again.faults, saved=False)


def judged_anew(draft: Draft, folders: Sequence[Path]) -> Draft:
    """The same draft with its faults as they are now: a profile may have been mended or lost since."""
    if draft.empty or not draft.text:
        return draft
    return replace(draft, faults=read(draft.text, draft.name, folders).faults)


# --- changing ------------------------------------------------------------------------------------


def entries(bench: Bench, table: Table) -> tuple[Entry, ...]:
    """One of the lists."""
    found: tuple[Entry, ...] = getattr(bench, table)
    return found


def put(bench: Bench, entry: Entry, spot: Spot | None = None) -> tuple[Bench, Spot]:
    """The bench with one more entry, or another one in the place of that at `spot`; and where it stands."""
    table = _OF_ENTRY[type(entry)]
    if spot is not None and spot.table is not table:
        bench, spot = without(bench, spot), None
    if spot is None:
        found = (*entries(bench, table), entry)
        return _with(bench, table, found), Spot(table, len(found) - 1)
    before = entries(bench, table)
    bench = _with(bench, table, (*before[: spot.at], entry, *before[spot.at + 1 :]))
    if isinstance(entry, SupplyEntry) and entry.job != before[spot.at].job:
        switches = tuple(_renamed(one, before[spot.at].job, entry.job) for one in bench.off_switch)
        bench = replace(bench, off_switch=switches)
    return bench, spot


def without(bench: Bench, spot: Spot) -> Bench:
    """The bench with one entry less."""
    found = entries(bench, spot.table)
    return _with(bench, spot.table, (*found[: spot.at], *found[spot.at + 1 :]))


def _with(bench: Bench, table: Table, found: tuple[Entry, ...]) -> Bench:
    return replace(bench, **{table.value: found})  # type: ignore[arg-type]  # the list belongs to the table


def _renamed(switch: OffSwitchEntry, before: str, now: str) -> OffSwitchEntry:
    """An off-switch that follows its supply to another name."""
    if switch.supply != before:
        return switch
    return replace(switch, supply=now, job=now if switch.job == before else switch.job)


# --- the library's benches -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BenchFile:
    """One bench that can be opened; `about` says what stands on it or what is wrong."""

    path: Path
    title: str
    about: str
    example: bool = False


def find_benches(library: Path) -> tuple[BenchFile, ...]:
    """The library's own, then the shipped examples'."""
    folder = library / BENCHES
    found = [_look_at(path) for path in sorted(folder.glob("*.toml"))] if folder.is_dir() else []
    for example in sorted(resources.path("examples").iterdir()):
        file = example / "bench.toml"
        if file.is_file():
            found.append(replace(_look_at(file), example=True))
    return tuple(found)


def _look_at(path: Path) -> BenchFile:
    try:
        bench = textfile.read(path, Bench)
    except BenchlogError as error:
        count = len(error.faults)
        return BenchFile(path, path.name, f"{count} thing{'' if count == 1 else 's'} to mend in it")
    jobs = [entry.job for entry in bench.meter] + [entry.job for entry in bench.supply]
    return BenchFile(path, bench.name, ", ".join(jobs) or "nothing on it yet")


def file_name(name: str) -> str:
    """The file name of a bench called so: its letters and digits, the rest as dashes."""
    plain = re.sub(r"[\W_]+", "-", name.casefold()).strip("-")[:_LONGEST_NAME].strip("-")
    if not plain or _TAKEN_BY_WINDOWS.fullmatch(plain):
        plain = f"bench-{plain}".strip("-")
    return f"{plain}.toml"


def save(draft: Draft, folder: Path) -> Draft:
    """Keep a bench in the library's folder by its name; the file before stays beside it as `.before`.

    Under another name it is another bench, and the first one stays. `BadInput` where a bench it does not come
    from is kept under that file name.
    """
    path = folder / file_name(draft.bench.name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        there = path.exists()
        if there and path != draft.path:
            problem = "holds another bench already"
            raise BadInput(path.name, problem, "open that one, or give this one another name")
        fresh = path.with_suffix(".new")
        fresh.write_text(draft.text, encoding="utf-8", newline="\n")
        if there and path.read_text(encoding="utf-8", errors="replace") != draft.text:
            path.replace(path.with_suffix(".before"))
        fresh.replace(path)
    except OSError as error:
        raise Full(
            str(path),
            f"cannot be written ({error.strerror or error})",
            "look at the folder and the room left",
        ) from None
    return replace(draft, path=path, name=path.name, saved=True)


# --- kinds of instruments ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class InstrumentKind:
    """A kind of instrument benchlog knows how to talk to; `trouble` says why it does not serve.

    Attributes:
        name: its code word in a bench file.
        title: what it is, in words.
        kind: `meter`, `stream` or `supply`.
        single: whether it accepts one connection alone, so that a cut shares it.
        text: its whole file, which tells that it was changed; empty where it does not serve.
    """

    name: str
    title: str
    kind: str = "meter"
    functions: tuple[Function, ...] = ()
    single: bool = False
    own: bool = False
    trouble: str = ""
    text: str = ""


def known_kinds(folders: Sequence[Path]) -> tuple[InstrumentKind, ...]:
    """Every kind: a person's own first, then the shipped ones; of one name the first counts."""
    found: dict[str, InstrumentKind] = {}
    shipped = resources.path("profiles")
    for folder in (*folders, shipped):
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            if path.stem not in found:
                found[path.stem] = _kind(path.stem, folders, own=folder != shipped)
    return tuple(found.values())


def _kind(name: str, folders: Sequence[Path], *, own: bool) -> InstrumentKind:
    try:
        profile = find_profile(name, folders)
    except BenchlogError as error:
        return InstrumentKind(name, name, own=own, trouble=str(error))
    single = profile.link.connections < 2
    return InstrumentKind(name, profile.name, profile.kind, profile.functions, single, own, text=profile.text)
