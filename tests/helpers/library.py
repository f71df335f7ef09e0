"""A small library for tests: one unit with two mirrored boards, a visit and a round."""

from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path

from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.standing import Rule
from benchlog.domain.unit import PartEntry, PartReading, Round, RoundKind, Unit, UnitFile, Visit
from benchlog.domain.verdict import Judgement, Verdict
from benchlog.store import edit, edit_boards, query_unit
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.textfile import parse

UNIT = """
file = "benchlog unit 1"
name = "Hall amplifier, two channels"
maker = "Nordlicht"
model = "NV-80"
serial = "0417"
mains = 230.0
complaint = "left channel dead"
mirror = ["R1## <-> R2##", "*L <-> *R"]

[pairs]
D5 = "D9"

[[board]]
name = "Amplifier board, left"

[[board.part]]
designator = "R110"
kind = "resistor"
marking = "4k7 5%"
should_read = "4k7 5%"

[[board.part]]
designator = "R9"
kind = "resistor"
should_read = "> 1 M"
from = "computed"
in_circuit = false

[[board.part]]
designator = "C4"
kind = "electrolytic"
marking = "100u 63V"

[[board]]
name = "Amplifier board, right"

[[board.part]]
designator = "R210"
kind = "resistor"
marking = "4k7 5%"
should_read = "4k7 5%"
note = "behind the sink"

[[board.part]]
designator = "D9"
kind = "diode"
should_read = "0.55..0.7"
function = "diode"
"""

WITHIN = Judgement(
    Verdict.WITHIN,
    "4.68 kΩ is within 4.7 kΩ ±5 %.",
    Rule.BENCH,
    value=4680.0,
    low=4465.0,
    high=4935.0,
    unit="ohm",
    uncertainty=12.0,
    probability=0.99,
    notes=("read with the lid off", "leads nulled"),
)


class Clock:
    """Gives one second after another, from a fixed morning on."""

    def __init__(self) -> None:
        self._seconds = count()

    def __call__(self) -> str:
        seconds = next(self._seconds)
        return f"2026-11-25T{8 + seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.000Z"


@dataclass
class Stock:
    """What `stocked` made."""

    library: Library
    unit: Unit
    visit: Visit
    round: Round

    def fitted(self, designator: str) -> str:
        """The id of what is fitted at a designator."""
        (item,) = self.library.connection.execute(
            "SELECT fitted.id FROM fitted JOIN part ON part.id = fitted.part"
            " WHERE part.designator = ? AND fitted.until IS NULL",
            (designator,),
        ).fetchone()
        return str(item)


def stocked(folder: Path) -> Stock:
    """An open library with a unit, a visit and a round under way."""
    library = Library.open(folder, now=Clock())
    unit = edit.create_unit(library, parse(UNIT, "unit.toml", UnitFile))
    visit = edit.open_visit(library, unit.id, "left channel dead", 231.5)
    return Stock(
        library, unit, visit, edit.start_round(library, visit.id, RoundKind.AS_FOUND, "cold, on the table")
    )


def part_reading(designator: str = "R110", value: float = 4680.0, **more: object) -> PartReading:
    """A good reading in ohms."""
    values: dict[str, object] = {"id": new_id()} | more
    return PartReading(
        designator=designator,
        function=Function.OHMS,
        outcome=Outcome.OK,
        value=value,
        unit="ohm",
        raw=f"{value:+.4E}",
        taken="2026-11-25T08:30:00.000Z",
        job="parts meter",
        **values,  # type: ignore[arg-type]
    )


def taken_body(designator: str = "R110", **more: object) -> dict[str, object]:
    """The fields of a `taken` message."""
    return {
        "is": "taken",
        "designator": designator,
        "part": "",
        "job": "parts meter",
        "function": "ohms",
        "outcome": "ok",
        "value": 4680.0,
        "unit": "ohm",
        "raw": "+4.6800E+03",
        "utc": "2026-11-25T08:30:00.000Z",
        "resolution": 0.1,
    } | more


def list_taken_in(stock: Stock) -> object:
    """A list of one part, on a board that is made for it."""
    entry = PartEntry(designator="R997", kind=Kind.RESISTOR)
    return edit_boards.take_in(stock.library, stock.unit.id, [edit_boards.Placed("tuner", entry)], "one part")


def board_copied(stock: Stock) -> object:
    """The first board once more, as its other side."""
    first = query_unit.boards(stock.library.folder, stock.unit.id)[0]
    return edit_boards.copy_board(stock.library, replace(stock.unit, mirror=("* <-> *x",)), first.id, "other")
