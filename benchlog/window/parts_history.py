"""A designator over the visits: every reading with its conditions, and what was fitted when and why."""

from collections.abc import Iterator

from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.domain.quantity import show
from benchlog.domain.unit import RoundKind, Visit
from benchlog.store import history
from benchlog.store.history import PartHistory
from benchlog.store.query_unit import KeptReading
from benchlog.window import rows, words
from benchlog.window.forms import scrolled
from benchlog.window.keys import Action
from benchlog.window.parts_book import in_words
from benchlog.window.parts_card import PairOfCards, conditions_of, result_of, shape_of
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_panel import Does, Panel
from benchlog.window.past_row import local
from benchlog.window.rows import Rows
from benchlog.window.unit_acts import day
from benchlog.window.work import Work

MOST = 200
"""No more lines of one part are listed, the newest first."""


class HistoryPanel(Panel):
    """The part at hand, from now back to when it came."""

    opens = Action.HISTORY

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__(work, hand)
        self._row = ("", "")
        self.cards = PairOfCards(work.look)
        self.list = Rows(work.look, "history", most=MOST, chooses=False)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(10)
        column.addWidget(self.cards)
        column.addWidget(self.list)
        column.addStretch(1)
        self.area = scrolled(inside)
        self.finish(self.area)

    def look_again(self) -> None:
        """Read it anew."""
        row, unit = self.hand.row, self.hand.book.unit
        up, down = self.key(Action.UP), self.key(Action.DOWN)
        self.caps.put(
            (
                Does(up, "part above", lambda: self.hand.go(self.hand.at - 1)),
                Does(down, "part below", lambda: self.hand.go(self.hand.at + 1)),
                Does("PgDn", "earlier", lambda: self.move_by(1)),
                self.closing(),
            )
        )
        if row is None or unit is None:
            self.head.say("Nothing at hand")
            self._show(PartHistory())
            return
        self.head.say(f"{row.designator} over the visits")
        part = row.line.part.id
        if row.key != self._row:
            self._row = row.key
            self._show(PartHistory())
        self.work.shelf.read(
            lambda folder: history.part_history(folder, unit.id, part),
            self._show,
            owner=self,
            key="over the visits",
        )

    def _show(self, known: PartHistory) -> None:
        row = self.hand.row
        if row is not None and known.sat and known.sat[-1].item.part != row.line.part.id:
            return
        known = known.of(row.measure.word) if row is not None else known
        pair = then_and_now(known)
        self.cards.setVisible(pair is not None)
        if pair is not None:
            (before, left), (visit, found) = pair
            self.cards.one.say(f"as left, {before.label}", left, before.mains)
            self.cards.other.say(f"as found, {visit.label}", found, visit.mains)
        self.list.put(list(lines_of(known))[:MOST])
        count = sum(not one.withdrawn for one in known.readings)
        visits = len({one.reading.visit for one in known.readings})
        if known.sat:
            read = (
                "Never read."
                if not count
                else f"{_counted(count, 'reading')} in {_counted(visits, 'visit')}."
            )
            sat = f" {len(known.sat)} items sat here, one after the other." if len(known.sat) > 1 else ""
            self.tell(f"{read}{sat}")


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}{'' if count == 1 else 's'}"


def then_and_now(
    known: PartHistory,
) -> tuple[tuple[Visit, KeptReading | None], tuple[Visit, KeptReading | None]] | None:
    """As left in the visit before, as found in the newest one (rule 37); None where it was here but once."""
    if len(known.visits) < 2:
        return None
    before, now = known.visits[-2:]
    left = _of_kind(known, before, RoundKind.AS_LEFT)
    found = _of_kind(known, now, RoundKind.AS_FOUND)
    return ((before, left), (now, found)) if left is not None or found is not None else None


def _of_kind(known: PartHistory, visit: Visit, kind: RoundKind) -> KeptReading | None:
    """The newest reading of a visit's rounds of one kind."""
    rounds = {one.id for one in known.rounds if one.visit == visit.id and one.kind is kind}
    return history.newest(one for one in known.readings if one.reading.round in rounds)


def lines_of(known: PartHistory) -> Iterator[rows.Row]:
    """Everything as rows, the newest first: visits as headings, then items and readings as they came."""
    labels = {visit.id: visit for visit in known.visits}
    events: list[tuple[str, str, rows.Row]] = []
    for kept in known.readings:
        visit = labels.get(kept.reading.visit)
        events.append((kept.reading.taken, kept.reading.visit, _reading(known, kept, visit)))
    for at, sat in enumerate(known.sat):
        if at or sat.item.marking:
            head = f"fitted: {sat.item.marking}" if at else f"came with {sat.item.marking}"
            below = ", ".join(text for text in (local(sat.item.since) if at else "", sat.item.reason) if text)
            events.append((sat.item.since, sat.visit, rows.Row(sat.item.id, head, below)))
    for one in known.written:
        if one.misprint:
            head = f"misprint in the sheet: {one.text}"
            events.append((one.at, "", rows.Row(one.id, head, f"so says {one.note}")))
    events.sort(key=lambda event: event[0], reverse=True)
    shown: str | None = None
    for _, visit_id, line in events:
        visit = labels.get(visit_id)
        if visit is not None and visit.id != shown:
            shown = visit.id
            yield _heading(visit)
        yield line


def _heading(visit: Visit) -> rows.Row:
    came = day(visit.opened)
    went = ", still here" if visit.closed is None else f" to {day(visit.closed)}"
    went = "" if visit.closed is not None and day(visit.closed) == came else went
    mains = f"mains {show(visit.mains, 'V', digits=4)} at intake" if visit.mains is not None else ""
    below = ", ".join(text for text in (visit.complaint, mains) if text)
    return rows.Row(visit.id, f"{visit.label}: {came}{went}", below)


def _reading(known: PartHistory, kept: KeptReading, visit: Visit | None) -> rows.Row:
    pass_ = known.round_of(kept)
    said = [words.ROUND[pass_.kind] if pass_ is not None else "", local(kept.reading.taken)]
    said.append(conditions_of(kept, visit.mains if visit is not None else None))
    below = ", ".join(text for text in said if text)
    shape = None if kept.withdrawn else shape_of(kept)
    return rows.Row(kept.reading.id, in_words(kept.reading), below, result_of(kept), shape)
