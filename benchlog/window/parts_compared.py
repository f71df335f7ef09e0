"""As found beside as left, or as left then beside as found now, with what matters of each part in words. No Qt."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from benchlog.domain.asking import value_of
from benchlog.domain.matters import Compared, Matter, Read, matters, weight
from benchlog.domain.quantity import Overload
from benchlog.domain.unit import RoundKind, Visit
from benchlog.domain.verdict import Verdict
from benchlog.store import history, query_unit
from benchlog.store.query_unit import KeptReading, PartLine
from benchlog.window import words


class Which(Enum):
    """Which two passes lie beside each other."""

    THIS_VISIT = "this visit"
    SINCE = "since the visit before"


class Order(Enum):
    """In which order the parts stand."""

    MATTERS = "what matters first"
    LIST = "as listed"


Kept = Mapping[tuple[str, str], KeptReading]
"""The newest reading of each measure of each part in one pass."""


@dataclass(frozen=True, slots=True)
class Subject:
    """A measure of a part as the list has it: its place there, and its other side's, None where it has none."""

    at: int
    line: PartLine
    other: int | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One part: both readings, the other side's, what matters, and that in words."""

    at: int
    designator: str
    board: str
    earlier: KeptReading | None = None
    later: KeptReading | None = None
    other: KeptReading | None = None
    other_name: str = ""
    matters: tuple[Matter, ...] = ()
    says: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """Every part in both passes; `earlier` and `later` name them, `visits` says whether there is a visit before."""

    earlier: str = "as found"
    later: str = "as left"
    lines: tuple[Line, ...] = ()
    visits: bool = False
    counts: Mapping[Matter, int] = field(default_factory=dict)

    def ordered(self, order: Order) -> tuple[Line, ...]:
        """The lines in an order; of equal weight as they are listed."""
        if order is Order.LIST:
            return self.lines
        return tuple(sorted(self.lines, key=lambda line: (weight(line.matters), line.matters, line.at)))


def compare(folder: Path, subjects: Sequence[Subject], visit: Visit, which: Which) -> Comparison:
    """Read both passes from the library and hold them beside each other."""
    before = [one for one in query_unit.visits(folder, visit.unit) if one.number < visit.number]
    if which is Which.SINCE and before:
        earlier = _pass(folder, before[-1], RoundKind.AS_LEFT)
        later = _pass(folder, visit, RoundKind.AS_FOUND)
        names = f"as left, {before[-1].label}", f"as found, {visit.label}"
    else:
        earlier = _pass(folder, visit, RoundKind.AS_FOUND)
        later = _pass(folder, visit, RoundKind.AS_LEFT)
        names = "as found", "as left"
    # What was fitted since then is no answer to how the unit came back.
    now = which is Which.THIS_VISIT
    lines = tuple(_line(one, subjects, (earlier, later), names[1], now=now) for one in subjects)
    counts = Counter(matter for line in lines for matter in line.matters)
    return Comparison(*names, lines, bool(before), counts)


def _pass(folder: Path, visit: Visit, kind: RoundKind) -> dict[tuple[str, str], KeptReading]:
    """The newest reading of each item in a visit's rounds of one kind, by the item's id."""
    rounds = {one.id for one in query_unit.rounds(folder, visit.id) if one.kind is kind}
    of_part = history.parts_of_items(folder, visit.unit)
    return {
        (of_part.get(one.reading.fitted, ""), one.reading.measure): one
        for one in query_unit.visit_results(folder, visit.id)
        if one.reading.round in rounds and history.counts(one)
    }


def _line(
    one: Subject, subjects: Sequence[Subject], passes: tuple[Kept, Kept], later_name: str, *, now: bool
) -> Line:
    """One part; `now` where what is read must be of the item that sits there now."""
    earlier, later = passes
    mirror = subjects[one.other] if one.other is not None else None
    first, last = (_of(one, kept) for kept in (earlier, later))
    compared = Compared(
        _read(first),
        _read(last),
        _read(_of(mirror, earlier)) if mirror is not None else None,
        _read(_of(mirror, later)) if mirror is not None else None,
        one.line.fitted.id if now else "",
    )
    found = matters(compared)
    beside = None
    if mirror is not None:
        shown = compared.other
        beside = next(
            (kept for kept in (_of(mirror, later), _of(mirror, earlier)) if _read(kept) == shown), None
        )
    name = mirror.line.designator if mirror is not None else ""
    says = tuple(_say(matter, compared, name, later_name) for matter in found)
    return Line(one.at, one.line.designator, one.line.board.name, first, last, beside, name, found, says)


def _of(one: Subject | None, kept: Kept) -> KeptReading | None:
    return kept.get((one.line.part.id, one.line.measure.word)) if one is not None else None


def _read(kept: KeptReading | None) -> Read | None:
    if kept is None:
        return None
    reading, under = kept.reading, kept.reading.conditions
    verdict = Verdict(kept.judgement.verdict) if kept.judgement is not None else None
    way = (reading.job, under.leads, under.circuit)
    return Read(value_of(reading), reading.unit, verdict, reading.fitted, way)


def _say(matter: Matter, compared: Compared, other: str, later: str) -> str:
    """One matter in a few words."""
    stands = compared.stands
    word = (
        words.RESULT[stands.verdict]
        if stands is not None and stands.verdict is not None
        else words.NOT_JUDGED
    )
    if matter is Matter.OUT:
        both = compared.earlier is not None and compared.later is not None and stands is compared.later
        again = both and compared.earlier is not None and compared.earlier.verdict is compared.later.verdict  # type: ignore[union-attr]  # both were looked at
        return f"still {word}" if again else word
    if matter is Matter.DIFFERS:
        return f"{apart(stands, compared.other)} {other}"
    if matter is Matter.UNPROVEN:
        return word
    if matter is Matter.NO_LATER:
        return f"not read {later.partition(',')[0]}"
    if matter is Matter.UNREAD:
        return "never read"
    if compared.replaced:
        return "replaced"
    moved = apart(compared.later, compared.earlier, ("more than", "less than"))
    return f"{moved} before" if moved != "as" else "another result"


def apart(one: Read | None, other: Read | None, ways: tuple[str, str] = ("above", "below")) -> str:
    """How far one reading lies from another, as a sentence goes on: `12 % above`."""
    if one is None or other is None:
        return "as"
    if isinstance(one.value, Overload) or isinstance(other.value, Overload):
        return "as" if type(one.value) is type(other.value) else "OL against a figure:"
    if one.value is None or not other.value:
        return "apart from"
    share = one.value / other.value - 1.0
    if abs(share) < 0.005:
        return "as"
    if share >= 1.0:
        return f"{share + 1.0:.2g} times"
    return f"{abs(share) * 100:.0f} % {ways[share < 0]}"


def summed_up(counts: Mapping[Matter, int], later: str = "as left") -> str:
    """What matters of all parts in one sentence; `later` names the later pass."""
    named = (
        (Matter.OUT, "out"),
        (Matter.DIFFERS, "not as the other side"),
        (Matter.UNPROVEN, "not proven"),
        (Matter.NO_LATER, f"not read {later.partition(',')[0]}"),
        (Matter.UNREAD, "never read"),
        (Matter.CHANGED, "changed"),
    )
    said = [f"{counts[matter]} {word}" for matter, word in named if counts.get(matter)]
    return f"{', '.join(said)}." if said else "Nothing stands out."


def subjects_of(rows: Iterable[tuple[int, PartLine, int | None]]) -> tuple[Subject, ...]:
    """The parts of a book as they are compared."""
    return tuple(Subject(*row) for row in rows)
