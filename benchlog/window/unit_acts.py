"""What the unit page reads and does, without a widget: in the threads that may touch files and the library."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from benchlog import resources, textfile
from benchlog.domain.designator import fold
from benchlog.domain.partline import TypedPart, read_parts
from benchlog.domain.quantity import quantity
from benchlog.domain.unit import Round, Unit, UnitFile, Visit
from benchlog.errors import BadInput, Fault
from benchlog.store import edit, overview, query_unit
from benchlog.store.ids import utc_moment
from benchlog.store.library import Library
from benchlog.store.overview import BoardLine, UnitLine
from benchlog.store.query_unit import OpenItem

EXAMPLES = {
    "amplifier": "a hall amplifier, two mirrored boards",
    "by-hand": "the same one on the commonest bench",
    "lamp-ladder": "the same one, up from lamp to lamp",
    "board": "a regulator board on a supply",
}
"""The shipped examples, in words."""

MOST_LINES = 2000
"""So many lines are understood in one go; more than any sheet has."""


@dataclass(frozen=True, slots=True)
class AtHand:
    """The unit at hand as the library has it now; `earlier` visits are over."""

    line: UnitLine
    boards: tuple[BoardLine, ...]
    visits: tuple[Visit, ...]
    rounds: tuple[Round, ...]
    open_items: tuple[OpenItem, ...]

    @property
    def visit(self) -> Visit | None:
        """The visit that is not over."""
        newest = self.line.visit
        return newest if newest is not None and newest.closed is None else None

    @property
    def earlier(self) -> tuple[Visit, ...]:
        """The visits that are over, newest first."""
        return tuple(visit for visit in reversed(self.visits) if visit.closed is not None)


@dataclass(frozen=True, slots=True)
class Seen:
    """What the library holds just now; `undo` names what would be taken back."""

    lines: tuple[UnitLine, ...]
    at_hand: AtHand | None
    undo: str


def look(folder: Path, unit_id: str) -> Seen:
    """Read what the page shows; `at_hand` is None where no unit is, or the library has it no more."""
    lines = overview.unit_lines(folder)
    found = next((line for line in lines if line.unit.id == unit_id), None)
    at_hand = None
    if found is not None:
        visit = found.visit
        at_hand = AtHand(
            found,
            overview.board_lines(folder, unit_id),
            query_unit.visits(folder, unit_id),
            query_unit.rounds(folder, visit.id) if visit is not None else (),
            query_unit.still_open(folder, unit_id),
        )
    return Seen(lines, at_hand, overview.undoable(folder))


# --- taking in -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class TakenIn:
    """A unit in hand; `known` where the library had it before, so that nothing was written."""

    unit: Unit
    visit: Visit | None
    round: Round | None = None
    known: bool = False


def read_example(name: str) -> UnitFile:
    """The unit of a shipped example."""
    return textfile.read(resources.path("examples", name, "unit.toml"), UnitFile)


def take_in(library: Library, file: UnitFile) -> TakenIn:
    """Make a unit of a file and take it in; one the library knows is taken in hand as it is there."""
    for line in overview.unit_lines(library.folder):
        if _same(line.unit, file):
            visit = line.visit if line.visit is not None and line.visit.closed is None else None
            return TakenIn(line.unit, visit, under_way(line), known=True)
    with library.act(f"new unit {file.name}"):
        unit = edit.create_unit(library, file)
        visit = edit.open_visit(library, unit.id, file.complaint)
    return TakenIn(unit, visit)


def under_way(line: UnitLine) -> Round | None:
    """The round of an open visit that has not ended."""
    if line.visit is None or line.visit.closed is not None or line.round is None:
        return None
    return line.round if line.round.ended is None else None


def _same(unit: Unit, file: UnitFile) -> bool:
    pairs = ((unit.name, file.name), (unit.maker, file.maker), (unit.model, file.model))
    return all(fold(one) == fold(other) for one, other in (*pairs, (unit.serial, file.serial)))


def unit_file(
    texts: Mapping[str, str], mirror: tuple[str, ...] = (), pairs: Mapping[str, str] | None = None
) -> UnitFile:
    """A unit file of what stands in a form; `BadInput` with every fault, the fields named as there."""
    faults: list[Fault] = []
    mains = None
    try:
        mains = volts(texts.get("mains", ""))
    except BadInput as error:
        faults.extend(error.faults)
    clean = {name: " ".join(text.split()) for name, text in texts.items() if name != "mains"}
    file = UnitFile(**clean, mains=mains, mirror=mirror, pairs=dict(pairs or {}))  # type: ignore[arg-type]
    faults.extend(Fault(place, problem, fix) for place, problem, fix in file.faults())
    if faults:
        raise BadInput.of(faults)
    return file


def volts(text: str) -> float | None:
    """Mains as it was typed: `230`, `230 V`; None where nothing was."""
    if not text.strip():
        return None
    try:
        found = quantity(text, "V")
    except BadInput as error:
        raise BadInput("mains", f"{error.place} {error.problem}", "write volts, as in 230") from None
    if found.unit not in ("", "V") or not 1.0 <= found.value <= 1000.0:
        raise BadInput("mains", f'"{text.strip()}" is no mains voltage', "write volts, as in 230")
    return found.value


# --- the other side ------------------------------------------------------------------------------


def mirror_text(unit: Unit) -> str:
    """Rules and pairs as a person edits them, one a line."""
    return "\n".join([*unit.mirror, *(f"{one} <-> {other}" for one, other in unit.pairs.items())])


def mirror_of(text: str) -> tuple[tuple[str, ...], dict[str, str]]:
    """Rules and pairs of a text: a line without # and * names a single pair."""
    rules: list[str] = []
    pairs: dict[str, str] = {}
    for line in (" ".join(line.split()) for line in text.splitlines()):
        one, arrow, other = (piece.strip() for piece in line.partition("<->"))
        if line and arrow and one and other and not set(line) & {"#", "*"}:
            pairs[one] = other
        elif line:
            rules.append(line)
    return tuple(rules), pairs


# --- parts by typed lines ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Line:
    """A typed line: its number from 1 and the parts it was understood as, or what is wrong with it."""

    number: int
    text: str
    parts: tuple[TypedPart, ...] = ()
    problem: str = ""


def read_lines(text: str) -> list[Line]:
    """Every line that is not empty; each is read for itself, and a name that comes twice is told."""
    lines: list[Line] = []
    seen: dict[str, int] = {}
    for number, written in enumerate(text.splitlines()[:MOST_LINES], start=1):
        if written.strip():
            lines.append(_read(number, written.strip(), seen))
    return lines


def _read(number: int, written: str, seen: dict[str, int]) -> Line:
    try:
        parts = read_parts(written)
    except BadInput as error:
        return Line(number, written, problem=" ".join(str(fault) for fault in error.faults))
    if any(part.reading is not None for part in parts):
        return Line(number, written, problem="Readings go in at Parts: leave out what stands behind the =.")
    for part in parts:
        name = part.entry.designator
        if fold(name) in seen:
            return Line(
                number, written, problem=f"{name} stands in line {seen[fold(name)]} already; name it once."
            )
    seen.update((fold(part.entry.designator), number) for part in parts)
    return Line(number, written, parts)


def day(utc: str) -> str:
    """A library time as a day of the bench's own calendar."""
    return utc_moment(utc).astimezone().strftime("%d %b %Y").lstrip("0")
