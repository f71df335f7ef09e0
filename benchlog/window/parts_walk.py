"""Which parts the Parts page goes over, and in which order: words that narrow the list, and a round's own plan. No Qt.

The book holds every part; a walk picks from it. Ten thousand parts are looked through at every key.
"""

from dataclasses import dataclass
from pathlib import Path

from benchlog.domain.partsorder import Order, in_pairs
from benchlog.domain.partsought import line_of, sought
from benchlog.domain.unit import Round, Unit, Visit
from benchlog.store import rounds
from benchlog.window import words
from benchlog.window.parts_book import Book, Row

ALL = "all"
"""The word that leaves a round's own parts behind, and looks through all of the unit."""
BEFORE_OHMS = "Before ohms: what do reservoirs and nodes hold? Measure them."
"""Asked as a round begins of which nobody said that the boards are without charge (rule 29)."""
AS_BEGUN = "as begun"
"""The order of a round that has its own."""


@dataclass(frozen=True, slots=True)
class Walk:
    """What a person wants to go over: the words as typed, and the order."""

    text: str = ""
    order: Order = Order.NATURAL

    @property
    def words(self) -> str:
        """The words without the one that asks for all."""
        first, _, rest = " ".join(self.text.split()).partition(" ")
        return rest if self.all else f"{first} {rest}".strip()

    @property
    def all(self) -> bool:
        """Whether it goes beyond a round's own parts."""
        return self.text.split()[:1] == [ALL]

    @property
    def asks(self) -> bool:
        """Whether it asks for anything but what is there."""
        return bool(self.text.strip()) or self.order is not Order.NATURAL

    @property
    def title(self) -> str:
        """The same in words, as a round is called that goes so; empty for all parts as they stand."""
        said = [self.words, self.order if self.order is not Order.NATURAL else ""]
        return ", ".join(one for one in said if one)


def order_of(book: Book, walk: Walk) -> list[int]:
    """The places of the rows of a book to go over, in their order."""
    own = _planned(book) if book.planned and not walk.all else None
    places = own if own is not None and walk.order is Order.NATURAL else _arranged(book, walk.order)
    if own is not None and walk.order is not Order.NATURAL:
        kept = set(own)
        places = [at for at in places if at in kept]
    wanted, rows = sought(walk.words), book.rows
    for word in wanted.words:
        places = [at for at in places if word in (rows[at].words or _line(rows[at]))]
    if wanted.without or wanted.names:
        places = [at for at in places if wanted.fits(_line(rows[at]), rows[at].line.part.designator)]
    return places


def read_book(folder: Path, unit: Unit, visit: Visit | None, round_: Round | None) -> Book:
    """Everything about a unit's parts from the library; takes as long as files take.

    The words of every part are made with it, away from the GUI's thread: the first key would wait for them.
    """
    book = Book.read(folder, unit, visit, round_)
    if visit is not None:
        book.charge = rounds.charge(folder, visit.id, book.boards_state.at)
    for row in book.rows:
        _line(row)
    return book


def _planned(book: Book) -> list[int]:
    """The rows of the round's own parts, in its order; a part that is gone is left out."""
    of_part: dict[str, list[int]] = {}
    for row in book.rows:
        of_part.setdefault(row.line.part.id, []).append(row.at)
    return [at for part in book.planned for at in of_part.get(part, ())]


def _arranged(book: Book, order: Order) -> list[int]:
    """All rows in an order; kept, since what is typed asks for it at every key."""
    if order not in book.kept_orders:
        book.kept_orders[order] = _sorted(book, order)
    return book.kept_orders[order]


def _sorted(book: Book, order: Order) -> list[int]:
    places = list(range(len(book.rows)))
    if order is Order.LISTED:
        rank = {part: at for at, part in enumerate(book.listed)}
        return sorted(places, key=lambda at: rank.get(book.rows[at].line.part.id, len(rank)))
    if order is Order.PAIRS:

        def other_side(at: int) -> str | None:
            other = book.rows[at].other
            return str(other) if other is not None else None

        return in_pairs(places, str, other_side)
    return places


def _line(row: Row) -> str:
    """All words of a part as it stands; kept with the row until it reads something else."""
    if not row.words:
        line = row.line
        texts = (
            words.KIND[line.part.kind],
            line.fitted.marking,
            row.should_read,
            line.board.name,
            line.part.note,
        )
        row.words = line_of(
            row.designator,
            *texts,
            row.result,
            verdict=row.verdict,
            read=row.kept is not None,
            paired=row.other is not None,
        )
    return row.words


def plan_of(book: Book, walk: Walk) -> tuple[str, tuple[str, ...]]:
    """What a round that begins now is called, and the parts it goes over by their ids; none for all of the unit.

    Where nothing else was asked for it goes over the same parts as the one before.
    """
    if not walk.asks:
        return (book.round.title, book.planned) if book.round is not None and book.planned else ("", ())
    if not walk.title:
        return "", ()
    return walk.title, tuple(dict.fromkeys(book.rows[at].line.part.id for at in book.order))


def where_it_stopped(book: Book) -> tuple[int, str]:
    """The row to begin with, and what is said of it: behind the one that was read last, however long ago.

    Where nothing was read yet it is the first to do; before ohms the charge of the boards is asked for.
    """
    last = book.last()
    at = book.next_to_do(last[0].at) if last is not None else None
    to_do = (one for one in book.order if book.rows[one].kept is None)
    first = next(to_do, None) if at is None else at
    if first is None:
        return next(iter(book.order), 0), ""
    if last is None:
        asks = book.round is not None and book.boards_state.holds is None
        return first, BEFORE_OHMS if asks else ""
    return first, f"It goes on where it stopped: {book.done} of {len(book.order)} are read."
