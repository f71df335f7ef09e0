"""What the part at hand should read, from elsewhere: each measure with its origin; a digit takes one."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.domain.asking import value_of
from benchlog.domain.elsewhere import OnSheet, Proposal, Source, against, agree, proposals
from benchlog.domain.expectation import Origin
from benchlog.domain.unit import Part, RoundKind, Unit
from benchlog.errors import BenchlogError
from benchlog.store import history
from benchlog.store.history import OfAnotherUnit, PartHistory
from benchlog.store.library import Library
from benchlog.window import parts_renew
from benchlog.window.forms import scrolled
from benchlog.window.keys import Action
from benchlog.window.parts_anew import Pair
from benchlog.window.parts_book import Row, in_words
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_panel import AskText, Does, Panel
from benchlog.window.rulers import Measure, Rulers
from benchlog.window.shapes import Shape
from benchlog.window.work import Work

MOST = 9
"""As many as there are digits to take them by."""
MOST_UNITS = 3
"""So many other units of the model are proposed, those read last."""


@dataclass(frozen=True, slots=True)
class Known:
    """What the library says of the part at hand and of its like."""

    history: PartHistory = PartHistory()
    units: tuple[OfAnotherUnit, ...] = ()


def read(folder: Path, unit: Unit, part: Part, measure: str) -> Known:
    """Everything that is proposed from for a measure of a part, read off the GUI thread."""
    return Known(
        history.part_history(folder, unit.id, part.id).of(measure),
        history.of_other_units(folder, unit, part.designator, measure),
    )


def proposed(row: Row, other: Row | None, known: Known) -> tuple[Proposal, ...]:
    """What can be proposed for a row."""
    part = row.line.part
    written = tuple(
        OnSheet(one.id, one.text, Origin(one.origin), one.until is None, one.note if one.misprint else "")
        for one in known.history.written
        if _speaks_of(one.fitted, one.origin, row)
    )
    sources = tuple(_sources(row, other, known))
    marking = "" if row.measure.word else row.line.fitted.marking
    found = proposals(part.kind, row.measure, _newest_of_each(written), marking, sources)
    return found[:MOST]


def _speaks_of(fitted: str, origin: str, row: Row) -> bool:
    """Of an item that is gone only what the sheet says still counts."""
    return fitted == row.line.fitted.id or origin == Origin.SHEET


def _newest_of_each(written: tuple[OnSheet, ...]) -> tuple[OnSheet, ...]:
    """What was written again and again once: what holds, else the newest."""
    kept: dict[tuple[str, Origin], OnSheet] = {}
    for one in written:
        before = kept.get((one.text, one.origin))
        if before is None or not before.holds:
            kept[one.text, one.origin] = one
    return tuple(kept.values())


def _sources(row: Row, other: Row | None, known: Known) -> Iterator[Source]:
    """What was read elsewhere, each with whose it is."""
    if other is not None and other.kept is not None:
        yield Source(
            Origin.MIRROR,
            f"{other.designator} reads {in_words(other.kept.reading)}",
            value_of(other.kept.reading),
        )
    earlier = [one for one in known.history.visits if one.closed is not None]
    for visit in reversed(earlier):
        # An item that is gone says nothing of the one that sits there now.
        kept = history.newest(
            one
            for one in known.history.readings
            if one.reading.visit == visit.id and one.reading.fitted == row.line.fitted.id
        )
        if kept is not None:
            pass_ = known.history.round_of(kept)
            left = ", as left" if pass_ is not None and pass_.kind is RoundKind.AS_LEFT else ""
            yield Source(Origin.EARLIER_VISIT, f"{visit.label}{left}", value_of(kept.reading))
            break
    read = [one for one in known.units if one.kept is not None]
    read.sort(key=lambda one: one.kept.reading.taken if one.kept is not None else "", reverse=True)
    for one in read[:MOST_UNITS]:
        if one.kept is not None and one.kept.reading.function is row.measure.function:
            visit_words = f", {one.visit.label}" if one.visit is not None else ""
            yield Source(Origin.EARLIER_UNIT, f"{one.unit.name}{visit_words}", value_of(one.kept.reading))


class ElsewherePanel(Panel):
    """Every measure for the part at hand on one scale."""

    opens = Action.SHOULD_READ

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__(work, hand)
        self._row = ("", "")
        self._known: Known | None = None
        self.proposals: tuple[Proposal, ...] = ()
        self.rulers = Rulers(work.look)
        self.rulers.pressed.connect(self._take)
        self.ask = AskText()
        self.ask.given.connect(self._misprint)
        self.ask.put_away.connect(self.quiet)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.addWidget(self.rulers)
        column.addStretch(1)
        self.area = scrolled(inside)
        self.column.addWidget(self.ask)
        self.finish(self.area)

    def look_again(self) -> None:
        """Read anew what is known; what was known of this part stays meanwhile."""
        row, unit = self.hand.row, self.hand.book.unit
        self.caps.put(
            (
                Does("1..9", "take one", lambda: None),
                Does(self.key(Action.LIFTED), "misprint", self._ask_misprint),
                Does(self.key(Action.UNDO), "undo", self.undo),
                self.closing(),
            )
        )
        if row is None or unit is None:
            self.head.say("Nothing at hand")
            self.tell(self.hand.cannot_keep())
            self.rulers.show_rows((), None, "")
            return
        self.head.say(f"{row.designator} should read")
        part, word = row.line.part, row.measure.word
        if row.key != self._row:
            # Until the library has answered nothing is proposed that could be taken.
            self._row, self._known, self.proposals = row.key, None, ()
            self.ask.leave()
            self.rulers.hide()
        if self._known is not None:
            self._show(self._known)
        self.work.shelf.read(
            lambda folder: read(folder, unit, part, word), self._show, owner=self, key="elsewhere"
        )

    def _show(self, known: Known) -> None:
        row = self.hand.row
        sat = known.history.sat
        if row is None or (sat and sat[-1].item.part != row.line.part.id):
            return
        self._known = known
        self.rulers.show()
        self.proposals = proposed(row, self.hand.book.other(row), known)
        held = next((one for one in self.proposals if one.holds), None)
        kept = row.kept
        self.rulers.show_rows(
            [_measure(at, one, held) for at, one in enumerate(self.proposals, start=1)],
            value_of(kept.reading) if kept is not None else None,
            in_words(kept.reading) if kept is not None else "",
        )
        self.tell(summed_up(self.proposals))

    # --- keys ----------------------------------------------------------------------------------------

    def typed(self, event: QKeyEvent) -> bool:
        """A digit takes the measure beside it."""
        text = event.text()
        if len(text) == 1 and text in "123456789" and not event.isAutoRepeat():
            self.note = ""
            self._take(int(text) - 1)
            return True
        return super().typed(event)

    def act(self, action: Action) -> bool:
        """The key of lifted marks a misprint, undo takes the last act back."""
        if action is Action.LIFTED:
            self._ask_misprint()
        elif action is Action.UNDO:
            self.undo()
        else:
            return False
        return True

    def _take(self, at: int) -> None:
        row, visit = self.hand.row, self.hand.book.visit
        problem = self.hand.cannot_keep()
        if problem or row is None or visit is None or at >= len(self.proposals):
            self.refuse(problem or "There is none with that number.")
            return
        chosen = self.proposals[at]
        if chosen.holds:
            self.refuse(f"It is judged by {chosen.expectation.shown} already.")
            return
        if chosen.misprint:
            self.refuse(f"That is a misprint, so says {chosen.misprint}: take that back first.")
            return
        pairs = self._pairs(row)
        self._edit(
            lambda library: parts_renew.take(library, visit, pairs, chosen),
            f"{row.designator} is judged by {chosen.expectation.shown} from {chosen.whose}. Older results stay.",
        )

    @property
    def _sheet(self) -> Proposal | None:
        """What the sheet says: what holds of it, else what is marked already, else the newest."""
        found = [one for one in self.proposals if one.origin is Origin.SHEET and one.id]
        return next(iter(found), None)

    def _ask_misprint(self) -> None:
        sheet, row = self._sheet, self.hand.row
        problem = self.hand.cannot_keep()
        if problem or sheet is None or row is None:
            self.refuse(problem or "The sheet says nothing of this part.")
            return
        if sheet.misprint:
            self._misprint("")
            return
        self.ask.ask(
            f"{sheet.expectation.shown} is a misprint: who says so?", "the maker's errata; my own reading"
        )

    def _misprint(self, who: str) -> None:
        sheet, row, visit = self._sheet, self.hand.row, self.hand.book.visit
        if sheet is None or row is None or visit is None or not (who or sheet.misprint):
            self.refuse("Write who says so.")
            return
        pairs = self._pairs(row)
        says = (
            f"The sheet is wrong here, so says {who}. Take what it should read instead."
            if who
            else "The sheet counts again."
        )
        self._edit(lambda library: parts_renew.say_misprint(library, visit, pairs, sheet, who), says)

    def _pairs(self, row: Row) -> tuple[Pair, ...]:
        """The measure at hand and then the part's others, each with the other side's."""
        book = self.hand.book
        rows = [row, *(one for one in book.of_part(row.line.part.id) if one is not row)]
        others = [book.other(one) for one in rows]
        return tuple(
            Pair(one.line, other.line if other is not None else None)
            for one, other in zip(rows, others, strict=True)
        )

    def _edit(self, work: Callable[[Library], None], says: str) -> None:
        def failed(error: BenchlogError) -> None:
            self.refuse(str(error))

        self.hand.edit(work, lambda _: self.remark(says), failed, again=True)


def _measure(at: int, one: Proposal, held: Proposal | None) -> Measure:
    """One row: what holds is marked, what is a misprint says so, the rest says how it lies beside what holds."""
    if one.holds:
        return Measure(str(at), one.expectation, one.whose, "it is judged by this", Shape.HERE, holds=True)
    if one.misprint:
        return Measure(
            str(at), one.expectation, one.whose, f"misprint, so says {one.misprint}", Shape.NOTHING
        )
    if held is None:
        return Measure(str(at), one.expectation, one.whose, "not taken", Shape.TO_DO)
    alike = agree(one.expectation, held.expectation)
    beside = against(one.expectation, held.expectation)
    return Measure(str(at), one.expectation, one.whose, beside, Shape.GOOD if alike else Shape.DOUBT)


def summed_up(found: tuple[Proposal, ...]) -> str:
    """In a sentence whether what is known agrees."""
    held = next((one for one in found if one.holds), None)
    rest = [one for one in found if not one.holds and not one.misprint]
    if not found:
        return "Nothing says what it should read."
    if held is None:
        return "Nothing holds yet: a digit takes one."
    apart = [one for one in rest if not agree(one.expectation, held.expectation)]
    if not rest:
        return "Nothing else is known."
    if not apart:
        return "All that is known agrees."
    others = "one other disagrees" if len(apart) == 1 else f"{len(apart)} others disagree"
    return f"{held.whose[:1].upper()}{held.whose[1:]} holds; {others}."
