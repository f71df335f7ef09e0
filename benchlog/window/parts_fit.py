"""Replacing a part: its reading before and after side by side, and a short form for what takes its place and why."""

from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.domain.elsewhere import against, carried_over, of_marking
from benchlog.domain.expectation import Origin
from benchlog.errors import BadInput, BenchlogError
from benchlog.store import history
from benchlog.store.history import PartHistory, Sat
from benchlog.store.library import Library
from benchlog.store.query_unit import KeptReading
from benchlog.window import parts_renew, words
from benchlog.window.forms import Fields, scrolled
from benchlog.window.keys import Action
from benchlog.window.page import label
from benchlog.window.parts_book import Row
from benchlog.window.parts_card import PairOfCards
from benchlog.window.parts_in_hand import InHand
from benchlog.window.parts_panel import Does, Panel
from benchlog.window.past_row import local
from benchlog.window.work import Work

NEW, WHY = "What is printed on the new one", "Why the old one goes"


class FitPanel(Panel):
    """The part at hand with what sat there before; the form fits another in its place."""

    opens = Action.FIT

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__(work, hand)
        self._part = ""
        self._known = PartHistory()
        self.cards = PairOfCards(work.look)
        self.fields = Fields(least=220, most=2)
        self.marking = self.fields.text(NEW, placeholder="4k7 1%")
        self.reason = self.fields.text(WHY, placeholder="drifted high")
        self.fields.finished.connect(self._keep)
        self.fields.left.connect(self.left)
        self.marking.textChanged.connect(self._tell_marking)
        self._means = label("", "soft", wrap=True)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(10)
        for widget in (self.cards, self.fields, self._means):
            column.addWidget(widget)
        column.addStretch(1)
        self.area = scrolled(inside)
        self.finish(self.area)

    def begin(self) -> None:
        """Ready to be typed into."""
        self.marking.clear()
        self.reason.clear()
        super().begin()
        if self.hand.row is not None and not self.hand.cannot_keep():
            self.fields.begin()

    def look_again(self) -> None:
        """Read what sat here, and show what is known of it meanwhile."""
        row, unit = self.hand.row, self.hand.book.unit
        problem = self.hand.cannot_keep()
        self.fields.setVisible(row is not None and not problem)
        self.caps.put(
            (
                Does("Enter", "next field, then fit it", self.fields.begin, main=True),
                Does(self.key(Action.UNDO), "undo", self.undo),
                self.closing(),
            )
        )
        if row is None or unit is None:
            self.head.say("Nothing at hand")
            self.tell(problem)
            return
        self.head.say(f"{row.designator}: another in its place")
        part = row.line.part.id
        if part != self._part:
            self._part, self._known = part, PartHistory()
            self._show(self._known)
        self.work.shelf.read(
            lambda folder: history.part_history(folder, unit.id, part), self._show, owner=self, key="fitted"
        )

    def _show(self, known: PartHistory) -> None:
        row = self.hand.row
        if row is None or (known.sat and known.sat[-1].item.part != row.line.part.id):
            return
        self._known = known = known.of(row.measure.word)
        now = known.sat[-1] if known.sat else Sat(row.line.fitted)
        before = known.sat[-2] if len(known.sat) > 1 else None
        here = of_item(known, now) or row.kept
        if before is None:
            self.cards.one.say(f"now: {now.item.marking or 'as it came'}", here)
        else:
            self.cards.one.say(f"before: {before.item.marking or 'as it came'}", of_item(known, before))
            self.cards.other.say(f"now: {now.item.marking}", here)
        self.cards.other.setVisible(before is not None)
        self.tell(self.hand.cannot_keep() or told_of(known))

    def _tell_marking(self, text: str) -> None:
        """What the new one will be judged by, and whether its marking says the same."""
        row = self.hand.row
        self._means.setText(means(row, text) if row is not None and text.strip() else "")

    def act(self, action: Action) -> bool:
        """Enter begins the form, undo takes the last act back."""
        if action is Action.GO:
            self.fields.begin()
        elif action is Action.UNDO:
            self.undo()
        else:
            return False
        return True

    def _keep(self) -> None:
        row, visit = self.hand.row, self.hand.book.visit
        marking = " ".join(self.marking.text().split())
        reason = " ".join(self.reason.text().split())
        if row is None or visit is None or self.hand.cannot_keep():
            self.refuse(self.hand.cannot_keep())
            return
        if self.hand.waiting is not None:
            self.refuse(f"{self.hand.waiting.row.designator} is still being read.")
            return
        if not marking:
            self.refuse("Write what is printed on the new one.")
            self.fields.begin()
            return
        line = row.line

        def work(library: Library) -> None:
            parts_renew.fit(library, visit, line, marking, reason)

        def done(_: None) -> None:
            self.marking.clear()
            self.reason.clear()
            self.remark(
                f"{line.part.designator} is {marking} now, and to be measured. The old readings stay its own."
            )
            self.quiet.emit()

        def failed(error: BenchlogError) -> None:
            self.refuse(str(error))

        self.hand.edit(work, done, failed, again=True)


def of_item(known: PartHistory, sat: Sat) -> KeptReading | None:
    """The newest reading of an item that counts."""
    return history.newest(one for one in known.readings if one.reading.fitted == sat.item.id)


def told_of(known: PartHistory) -> str:
    """When the present item was fitted and why; empty where it came with the unit."""
    if len(known.sat) < 2:
        return ""
    now = known.sat[-1]
    visit = next((one.label for one in known.visits if one.id == now.visit), "")
    where = f" in {visit}" if visit else ""
    return f"Fitted {local(now.item.since)}{where}{f': {now.item.reason}' if now.item.reason else ''}."


def means(row: Row, marking: str) -> str:
    """What a new item with such a marking is judged by, in words."""
    part = row.line.part
    known = [(one.text, Origin(one.origin), one.measure) for one in row.line.expected]
    wanted = [one for one in carried_over(part, known, marking) if one[2] == row.measure.word]
    if not wanted:
        return "Nothing says yet what it should read: the marking tells no value with a tolerance."
    text, origin, _ = wanted[0]
    try:
        held = row.measure.expected(part.kind, text, origin)
    except BadInput:
        return ""
    said = f"It should read {held.shown} from {words.ORIGIN[origin]}."
    if row.measure.word:
        return said
    printed = of_marking(marking, part.kind, row.measure.unit, held.tolerance)
    if printed is None or origin is Origin.MARKING or against(printed, held) == "agrees":
        return said
    return f"{said} Its marking says {printed.shown}, {against(printed, held)}."
