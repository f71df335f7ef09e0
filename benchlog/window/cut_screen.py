"""A trip takes the whole window: what, where, how far beyond, whether the cut is verified, what is still charged.

It is read at one fifth of its size: the word, the sentence and the state of each off-switch are the largest.
"""

from PySide6.QtCore import QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPainterPath, QPaintEvent, QPen, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from benchlog.window import after_cut, words
from benchlog.window.charges import Charge
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import AFTER, Action
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.shapes import Mark
from benchlog.window.unbroken import unbroken
from benchlog.window.work import Work

EVERY = 200
BORDER = 34
NAME, NUMBER = 18, 34
"""Pixels of a reservoir's name, and of its number."""
TALL, LOW, LOW_BELOW = 58, 44, 860
"""Pixels of a reservoir's height; where there are more than two, and the page is lower than the last."""
WRAP = int(Qt.TextFlag.TextWordWrap.value)
SETTLE, HAMMERED = 2.0, 0.5
"""Seconds in which Enter says nothing: it may have been meant for what stood there before; and after one that did."""


class ChargeBar(QWidget):
    """What a reservoir still holds: its volts, how full the bar is against the start, and how long it may take."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._charge: Charge | None = None
        self._columns = 70.0, 0.0
        self.setMinimumHeight(TALL)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @staticmethod
    def columns_of(look: Look, charges: tuple[Charge, ...]) -> tuple[float, float]:
        """Pixels that names and numbers need, so that all of them stand below each other."""
        names, numbers = (QFontMetricsF(font) for font in (look.font(NAME), look.font(NUMBER, bold=True)))
        name = max((names.horizontalAdvance(one.name) for one in charges), default=0.0)
        # A number that falls makes no less room for itself.
        number = max((numbers.horizontalAdvance(one.shown) for one in charges), default=0.0)
        return max(70.0, name + 14.0), max(numbers.horizontalAdvance("-44.44 V"), number)

    def sizeHint(self) -> QSize:
        """As tall as it must be."""
        return QSize(300, self.minimumHeight())

    def be_low(self, *, low: bool) -> None:
        """Take less room, where there are many."""
        self.setMinimumHeight(LOW if low else TALL)

    def show_charge(self, charge: Charge, columns: tuple[float, float]) -> None:
        """Show how it stands now, name and number that wide."""
        if (charge, columns) != (self._charge, self._columns):
            self._charge, self._columns = charge, columns
            self.setAccessibleName(f"{charge.name}: {charge.shown}, {charge.words}")
            self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        charge, theme = self._charge, self._look.theme
        if charge is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        inset = 14.0 if self.width() > 600 else 2.0
        box = QRectF(self.rect()).adjusted(inset, 4, -inset, -4)
        text = QRectF(box.left(), box.top(), box.width(), box.height() - 10)
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.setPen(theme.soft)
        painter.setFont(self._look.font(NAME))
        painter.drawText(text, left, charge.name)
        name, number = self._columns
        painter.setPen(theme.soft if charge.stale else theme.ink)
        painter.setFont(self._look.font(NUMBER, bold=True))
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(QRectF(text.left() + name, text.top(), number, text.height()), right, charge.shown)
        room = text.adjusted(name + number + 18.0, 0, 0, 0)
        painter.setPen(theme.danger if charge.stale else theme.soft)
        painter.setFont(self._words_font(charge, room.width(), room.height()))
        painter.drawText(room, int(left.value) | WRAP, unbroken(charge.words))
        track = QRectF(box.left(), box.bottom() - 7, box.width(), 7)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.hairline)
        painter.drawRoundedRect(track, 3.5, 3.5)
        painter.setBrush(theme.here)
        painter.drawRoundedRect(QRectF(track.left(), track.top(), track.width() * charge.share, 7), 3.5, 3.5)
        painter.end()

    def _words_font(self, charge: Charge, width: float, height: float) -> QFont:
        """The largest in which its words have room, in one line or two."""
        for pixels in range(16, 9, -1):
            font = self._look.font(pixels, bold=charge.stale)
            needs = QFontMetricsF(font).boundingRect(QRectF(0, 0, width, 1000), WRAP, unbroken(charge.words))
            if needs.height() <= height and needs.width() <= width:
                break
        return font


class CutScreen(QWidget):
    """The page after a cut; `left` when the person goes on, `look_back` for the last ten seconds, `note` for a note."""

    left = Signal()
    look_back = Signal()
    note = Signal()
    answered = Signal(bool)

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._bars: dict[str, ChargeBar] = {}
        self._lines: list[QWidget] = []
        self._asks = self._many = False
        self._deaf_until = 0.0
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.word = QLabel(words.CUT)
        self.word.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.what = label(wrap=True)
        self.what.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.where = label(rank="soft", wrap=True)
        self.where.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.switches = QVBoxLayout()
        self.keep_out = label(wrap=True)
        self.keep_out.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.reservoirs = QVBoxLayout()
        self.never_trust = label(wrap=True)
        self.never_trust.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.next = label(rank="soft", wrap=True)
        self.next.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._caps = self._make_caps()
        self._place()
        timer = QTimer(self)
        timer.setInterval(EVERY)
        timer.timeout.connect(self.refresh)
        timer.start()
        work.runner.changed.connect(self.refresh)
        work.look.changed.connect(self.refresh)
        work.keys_changed.connect(self._name_keys)

    def _make_caps(self) -> dict[str, KeyCap]:
        look, keys = self._work.look, self._work.keys
        says = {"note": "note", "back": "last ten seconds", "end": "leave this page"}
        caps = {
            name: KeyCap(look, keys.name(_ACTIONS[name], AFTER), text, main=name == "end")
            for name, text in says.items()
        }
        caps["note"].clicked.connect(self.note)
        caps["back"].clicked.connect(self.look_back)
        caps["end"].clicked.connect(self.press_end)
        return caps

    def _name_keys(self) -> None:
        """The keys are bound otherwise from now on."""
        for name, action in _ACTIONS.items():
            self._caps[name].say(self._caps[name].does, key=self._work.keys.name(action, AFTER))

    def _place(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(BORDER + 20, BORDER + 6, BORDER + 20, BORDER + 12)
        column.setSpacing(8)
        for widget in (self.word, self.what, self.where):
            column.addWidget(widget)
        column.addStretch(1)
        column.addLayout(self.switches)
        column.addStretch(1)
        column.addWidget(self.keep_out)
        middle = QHBoxLayout()
        held = QWidget()
        held.setMaximumWidth(780)
        self.reservoirs.setContentsMargins(0, 0, 0, 0)
        held.setLayout(self.reservoirs)
        middle.addStretch(1)
        middle.addWidget(held, 200)
        middle.addStretch(1)
        column.addLayout(middle)
        column.addWidget(self.never_trust)
        column.addStretch(1)
        column.addWidget(self.next)
        row = QHBoxLayout()
        row.addStretch(1)
        for cap in self._caps.values():
            cap.setMinimumWidth(150 if self.width() > 800 else 120)
            row.addWidget(cap, 2)
        row.addStretch(1)
        column.addLayout(row)

    def press_end(self) -> None:
        """Enter: say that it is off where that is asked, else leave the page, and a run that was lost for good."""
        now = self._work.now()
        if now < self._deaf_until:
            # A hand that hammers the key goes on doing so: it is let through once it has stopped.
            self._deaf_until = max(self._deaf_until, now + HAMMERED)
            return
        prompt = self._work.runner.view.prompt
        if prompt is not None and prompt.kind == "switch_off":
            self.answered.emit(True)
            return
        self._work.runner.leave_lost()
        self.left.emit()

    def showEvent(self, event: QShowEvent) -> None:
        """It has just come up, over whatever was being done."""
        super().showEvent(event)
        self.settle()

    def settle(self) -> None:
        """Something new is said from now on: no Enter is meant for it yet."""
        self._deaf_until = self._work.now() + SETTLE

    def refresh(self) -> None:
        """Say how it stands now."""
        if not self.isVisible():
            return
        view, look = self._work.runner.view, self._work.look
        now = self._work.now()
        story = after_cut.story_of(view, now)
        if story.asks_hand != self._asks:
            self._asks = story.asks_hand
            self.settle()
        wide = self.width() - 2 * BORDER - 40
        self.word.setText(story.word)
        # As wide as the page: one short word, or two that are longer.
        letters = max(3.2, 0.8 * len(story.word))
        self._many = len(story.charges) > 2 and self.height() < LOW_BELOW
        tallest = self.height() / (9.0 if self._many else 5.0)
        self.word.setFont(look.font(min(150.0, wide / letters, tallest), bold=True))
        self.word.setStyleSheet(f"color: {look.theme.danger.name()}")
        large = 38 if wide > 900 else 24
        # What still stands there is a number that is read from across the room.
        most = 2 * large if story.word == words.STILL_LIVE else large
        # A little smaller rather than one word alone in a second line.
        self.what.setFont(look.fitting(story.what, wide - 8, most, least=0.85 * most))
        self.what.setText(story.what)
        self.where.setFont(look.font(19 if wide > 900 else 15))
        self.where.setText(story.where)
        self._show_switches(story)
        self.keep_out.setFont(look.font(25 if wide > 900 else 18, bold=True))
        self.keep_out.setText(story.keep_out)
        self._show_reservoirs(story.charges)
        self.never_trust.setFont(look.font(18 if wide > 900 else 14, bold=True))
        self.never_trust.setText(story.never_trust)
        self.next.setText(story.next)
        self._caps["end"].say(story.end)
        self._caps["note"].setEnabled(view.is_open and not view.lost)

    def _show_switches(self, story: after_cut.Story) -> None:
        if [line.text for line in self._lines if isinstance(line, SwitchLine)] != [
            one.text for one in story.switches
        ]:
            for line in self._lines:
                line.hide()
                line.deleteLater()
            self._lines = [SwitchLine(self._work.look, one) for one in story.switches]
            for line in self._lines:
                self.switches.addWidget(line, 0, Qt.AlignmentFlag.AlignHCenter)

    def _show_reservoirs(self, charges: tuple[Charge, ...]) -> None:
        names = [charge.name for charge in charges]
        if names != list(self._bars):
            for bar in self._bars.values():
                bar.hide()
                bar.deleteLater()
            self._bars = {name: ChargeBar(self._work.look) for name in names}
            for bar in self._bars.values():
                self.reservoirs.addWidget(bar)
        columns = ChargeBar.columns_of(self._work.look, charges)
        self.reservoirs.setSpacing(2 if self._many else 6)
        for charge in charges:
            self._bars[charge.name].be_low(low=self._many)
            self._bars[charge.name].show_charge(charge, columns)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """A hatched vermilion border around the paper, seen from across the room."""
        theme = self._work.look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), theme.danger)
        painter.setPen(QPen(theme.danger_deep, 7))
        for x in range(-self.height(), self.width(), 22):
            painter.drawLine(x, self.height() + 8, x + self.height() + 8, 0)
        paper = QPainterPath()
        paper.addRoundedRect(QRectF(self.rect()).adjusted(BORDER, BORDER, -BORDER, -BORDER), 10, 10)
        painter.fillPath(paper, theme.page)
        painter.end()


_ACTIONS = {"note": Action.NOTE, "back": Action.LAST_SECONDS, "end": Action.END}


class SwitchLine(QWidget):
    """How one off-switch stands."""

    def __init__(self, look: Look, stands: after_cut.SwitchStands) -> None:
        super().__init__()
        self.text = stands.text
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(Mark(look, stands.shape, 26))
        row.addSpacing(8)
        words_ = label(stands.text, wrap=False)
        words_.setFont(look.font(25 if len(stands.text) < 60 else 19, bold=stands.shape.value != "good"))
        row.addWidget(words_)
        if stands.took:
            took = label(stands.took, "soft")
            row.addSpacing(14)
            row.addWidget(took)
