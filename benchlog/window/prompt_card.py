"""The card that says what is to be done now, large enough for two metres, with the keys that answer it."""

from PySide6.QtCore import QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from benchlog.window.call import Call
from benchlog.window.keycap import KeyCap
from benchlog.window.look import Look
from benchlog.window.shapes import Mark
from benchlog.window.unbroken import unbroken

MOST, LEAST = 36, 17
DETAIL, LEAST_DETAIL, MOST_DETAIL = 15, 11, 0.66
"""Pixels of the small line, at least, and the share of the height that it may take where it is long."""
TALL, LOW = 128, 122
"""Height where there is room, and where there is little."""
_WRAP = int(Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)


class Sentence(QWidget):
    """A sentence as large as there is room for, and a small line below it."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._call = Call("")
        self._text = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_call(self, call: Call) -> None:
        """Show another one."""
        self._call = call
        self._text = unbroken(call.text)
        self.setAccessibleName(f"{call.text} {call.detail}".strip())
        self.update()

    def sizeHint(self) -> QSize:
        """Two lines of large text, one of small."""
        return QSize(300, TALL - 24)

    def minimumSizeHint(self) -> QSize:
        """Text of half the size still reads well."""
        return QSize(180, 60)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw both."""
        theme, call = self._look.theme, self._call
        painter = QPainter(self)
        box = QRect(0, 0, self.width(), self.height())
        if call.detail:
            font, tall = self.small_line(box.width(), box.height())
            painter.setFont(font)
            low = QRect(0, box.height() - tall, box.width(), tall)
            painter.setPen(theme.danger if call.danger else theme.soft)
            painter.drawText(low, _WRAP, unbroken(call.detail))
            box.setBottom(low.top() - 3)
        painter.setPen(theme.ink)
        painter.setFont(self._look.font(self._pixels(box), bold=True))
        painter.drawText(box, _WRAP, self._text)
        painter.end()

    def small_line(self, width: int, height: int) -> tuple[QFont, int]:
        """The font of the small line, and its pixels of height: smaller, then taller than usual, before it is cut."""
        room, wrap = QRect(0, 0, width, 2000), int(Qt.TextFlag.TextWordWrap)
        for pixels in range(DETAIL, LEAST_DETAIL - 1, -1):
            font = self._look.font(pixels, bold=self._call.danger)
            tall = QFontMetrics(font).boundingRect(room, wrap, unbroken(self._call.detail)).height()
            if tall <= height * (0.5 if pixels > LEAST_DETAIL + 2 else MOST_DETAIL):
                return font, tall
        return font, int(height * MOST_DETAIL)

    def _pixels(self, box: QRect) -> int:
        """The largest size at which the sentence fits."""
        room = QRect(0, 0, box.width(), 2000)
        for pixels in range(MOST, LEAST, -1):
            metrics = QFontMetrics(self._look.font(pixels, bold=True))
            bounds = metrics.boundingRect(room, _WRAP, self._text)
            if bounds.height() <= box.height() and bounds.width() <= box.width():
                return pixels
        return LEAST


class PromptCard(QWidget):
    """What is said now, with Enter and the key for no; `yes` and `no` when they were clicked."""

    yes = Signal()
    no = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.call = Call("")
        self.setFixedHeight(TALL)
        self.mark = Mark(look, side=22)
        self.sentence = Sentence(look)
        self.enter = KeyCap(look, "", "", main=True)
        self.deny = KeyCap(look, "", "")
        self.enter.clicked.connect(self.yes)
        self.deny.clicked.connect(self.no)
        caps = QVBoxLayout()
        caps.setSpacing(6)
        caps.addStretch(1)
        for cap in (self.enter, self.deny):
            cap.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
            caps.addWidget(cap)
        caps.addStretch(1)
        row = self._row = QHBoxLayout(self)
        row.addWidget(self.mark)
        row.addWidget(self.sentence, 1)
        row.addLayout(caps)
        self.be_low(low=False)
        look.changed.connect(self.update)

    def be_low(self, *, low: bool) -> None:
        """Take less room."""
        self.setFixedHeight(LOW if low else TALL)
        self._row.setContentsMargins(*((10, 6, 8, 6) if low else (18, 8, 12, 8)))
        self._row.setSpacing(8 if low else 12)

    def name_keys(self, enter: str, deny: str) -> None:
        """The keys are bound otherwise from now on."""
        self.enter.say(self.call.enter, key=enter)
        self.deny.say(self.call.no, key=deny)

    def show_call(self, call: Call) -> None:
        """Show what is said now."""
        if call == self.call:
            return
        self.call = call
        self.sentence.show_call(call)
        self.mark.setVisible(call.shape is not None)
        if call.shape is not None:
            self.mark.show_shape(call.shape)
        self.enter.setVisible(bool(call.enter))
        self.deny.setVisible(bool(call.no))
        wide = 0
        for cap, does in ((self.enter, call.enter), (self.deny, call.no)):
            cap.say(does)
            wide = max(wide, cap.sizeHint().width() if does else 0)
        for cap in (self.enter, self.deny):
            cap.setMinimumWidth(max(118, wide))
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """A card; blue and bordered where somebody must do something."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        asks = self.call.asks
        painter.setPen(QPen(theme.here if asks else theme.hairline, 3 if asks else 1))
        painter.setBrush(theme.here_pale if asks else theme.card)
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(2, 2, -2, -2), 10, 10)
        painter.end()
