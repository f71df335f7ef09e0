"""What stands beside the part at hand: the open list, its readings of this visit, and its note."""

from collections.abc import Iterable

from PySide6.QtCore import QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from benchlog.domain.unit import FittedItem, Round
from benchlog.domain.verdict import Verdict
from benchlog.store import query_unit
from benchlog.store.query_unit import KeptReading, OpenItem
from benchlog.window import shapes, words
from benchlog.window.keys import PARTS, Action
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.parts_book import Row, in_words
from benchlog.window.parts_current import small_button
from benchlog.window.parts_in_hand import InHand
from benchlog.window.shapes import OF_VERDICT, Shape
from benchlog.window.work import Work

FIRST, LINE, SPACE = 22, 18, 6
"""Pixels of height of what one reading read, of a line below it (when, and what that proves), and to the next."""
LEFT = 22
"""Pixels up to its words, right of its shape."""
WRAPPED = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap)
MOST = 40
"""No more readings of one part are listed."""


class History(QWidget):
    """The readings of one part in this visit, newest first; those taken back are struck out."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._kept: list[KeptReading] = []
        self._rounds: dict[str, Round] = {}
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def show_readings(self, kept: Iterable[KeptReading], rounds: Iterable[Round]) -> None:
        """Show other readings."""
        self._kept = list(kept)[::-1][:MOST]
        self._rounds = {one.id: one for one in rounds}
        said = "; ".join(f"{in_words(one.reading)}, {self._below(one)}" for one in self._kept)
        self.setAccessibleName(f"readings of this visit: {said or 'none'}")
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """What was read, and below it as many lines as its words take at this width."""
        return QSize(200, sum(FIRST + self._tall(one) + SPACE for one in self._kept) or FIRST + LINE + SPACE)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width, other lines."""
        super().resizeEvent(event)
        self.updateGeometry()

    def _tall(self, kept: KeptReading) -> int:
        """Pixels of height of the words below a reading."""
        room = QRect(0, 0, max(1, self.width() - LEFT), 9999)
        said = QFontMetrics(self._look.font(13)).boundingRect(room, WRAPPED, self._below(kept))
        return max(LINE, said.height())

    def _below(self, kept: KeptReading) -> str:
        """When it was read and what it proves."""
        pass_ = self._rounds.get(kept.reading.round)
        said = [words.ROUND[pass_.kind] if pass_ is not None else "", kept.reading.conditions.circuit]
        said.append(kept.reading.conditions.leads and "leads turned")
        said.append(words.TYPED if kept.reading.typed else "")
        if kept.withdrawn:
            said.append("taken back")
        elif kept.judgement is not None:
            said.append(words.RESULT[Verdict(kept.judgement.verdict)])
        return ", ".join(one for one in said if one)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw them."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, look = self._look.theme, self._look
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        if not self._kept:
            painter.setPen(theme.soft)
            painter.setFont(look.font(14))
            painter.drawText(QRectF(0, 0, self.width(), 24), left, "not read in this visit")
        top = 0
        for at, kept in enumerate(self._kept):
            shape = Shape.DOUBT
            if kept.judgement is not None:
                shape = OF_VERDICT[Verdict(kept.judgement.verdict)]
            if not kept.withdrawn:
                shapes.draw(painter, QRectF(1, top + 6, 12, 12), shape, theme)
            wide = self.width() - LEFT
            font = look.font(16, bold=at == 0 and not kept.withdrawn)
            font.setStrikeOut(kept.withdrawn)
            painter.setFont(font)
            painter.setPen(theme.soft if kept.withdrawn else theme.ink)
            painter.drawText(QRectF(LEFT, top, wide, 24), left, in_words(kept.reading))
            painter.setFont(look.font(13))
            painter.setPen(theme.soft)
            tall = self._tall(kept)
            painter.drawText(QRect(LEFT, top + FIRST, wide, tall), WRAPPED, self._below(kept))
            top += FIRST + tall + SPACE
        painter.end()


VIEWS = {
    Action.OPEN_LIST: "open list",
    Action.SHOULD_READ: "should read, from elsewhere",
    Action.HISTORY: "this part over the visits",
    Action.FIT: "another in its place",
    Action.COMPARE: "all as found, as left",
}
"""What opens in the place of the part at hand, by its own key."""


class Beside(QScrollArea):
    """The right column; `asked` carries the action of a view that shall open."""

    asked = Signal(object)

    def __init__(self, work: Work, hand: InHand) -> None:
        super().__init__()
        self._work, self._hand = work, hand
        self._seen = ("", "")
        """The row whose readings are shown, by its key; empty where they are to be read anew."""
        self.history = History(work.look)
        self._items = label("", wrap=True)
        self._note_head = label("note", "head")
        self._note = label("", wrap=True)
        self._marking_head = label("fitted", "head")
        self._marking = label("", wrap=True)
        self._views = {action: small_button("") for action in VIEWS}
        for action, button in self._views.items():
            button.clicked.connect(lambda _=False, action=action: self.asked.emit(action))
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(6)
        column.addWidget(label("open list", "head"))
        column.addWidget(self._items)
        column.addSpacing(14)
        column.addWidget(label("this visit", "head"))
        column.addWidget(self.history)
        column.addSpacing(8)
        for widget in (self._marking_head, self._marking, self._note_head, self._note):
            column.addWidget(widget)
        column.addStretch(1)
        for button in self._views.values():
            column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        self._name_keys()
        work.keys_changed.connect(self._name_keys)
        self.setWidget(inner)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def _name_keys(self) -> None:
        for action, button in self._views.items():
            key = self._work.keys.name(action, PARTS)
            button.setText(f"{VIEWS[action]}: {key}" if key else VIEWS[action])

    def forget(self) -> None:
        """What is shown of the part at hand may have changed."""
        self._seen = ("", "")

    def refresh(self) -> None:
        """Show what stands beside the part at hand."""
        self._show_items(self._hand.book.open_items)
        self._show_part(self._hand.row)
        self._read_history()

    def _read_history(self) -> None:
        """Ask for the readings of the part at hand, once for each part and each change."""
        book, row, visit = self._hand.book, self._hand.row, self._hand.book.visit
        if row is None or visit is None:
            self.history.show_readings((), ())
            return
        part, word = row.line.part.id, row.measure.word
        if self._seen == row.key:
            return
        self._seen = row.key

        def show(kept: tuple[KeptReading, ...]) -> None:
            own = [one for one in kept if one.reading.visit == visit.id and one.reading.measure == word]
            # The round that a first reading began is not among those that were read with the book.
            begun = self._hand.book.round
            self.history.show_readings(own, (*book.rounds, *([begun] if begun is not None else [])))

        self._work.shelf.read(
            lambda folder: query_unit.readings_of(folder, part), show, owner=self, key="part readings"
        )

    def _show_items(self, items: Iterable[OpenItem]) -> None:
        waiting = [item.text for item in items if item.closed is None]
        self._items.setText("\n".join(waiting) if waiting else "nothing to put back")
        self._items.setProperty("rank", "" if waiting else "soft")
        self._items.style().polish(self._items)

    def _show_part(self, row: Row | None) -> None:
        marking = fitted_of(row.line.fitted) if row is not None else ""
        note = row.line.part.note if row is not None else ""
        for text, head, body in (
            (marking, self._marking_head, self._marking),
            (note, self._note_head, self._note),
        ):
            body.setText(text)
            head.setVisible(bool(text))
            body.setVisible(bool(text))


def fitted_of(item: FittedItem) -> str:
    """What sits there: its marking, and why it took the place of the one before."""
    return "\nin place of the one before: ".join(text for text in (item.marking, item.reason) if text)
