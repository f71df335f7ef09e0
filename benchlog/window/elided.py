"""One line of text that ends in dots where there is no room, instead of being cut off."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.window.look import Look
from benchlog.window.tooltip import tip


class Elided(QWidget):
    """A line of a size; the whole text is its tool tip and accessible name."""

    def __init__(
        self,
        look: Look,
        pixels: float,
        *,
        bold: bool = False,
        soft: bool = False,
        right: bool = False,
        least: float | None = None,
    ) -> None:
        """`least`: so small its letters may become before it is shortened; None: it is shortened at once."""
        super().__init__()
        self._look = look
        self._font = look.font(pixels, bold=bold)
        self._pixels, self._bold, self._least = pixels, bold, least
        self._soft = soft
        self._right = right
        self._text = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def say(self, text: str) -> None:
        """Show another text."""
        if text != self._text:
            self._text = text
            self.setToolTip(tip(text))
            self.setAccessibleName(text)
            self.updateGeometry()
            self.update()

    def sizeHint(self) -> QSize:
        """Room for all of it."""
        metrics = QFontMetrics(self._font)
        return QSize(metrics.horizontalAdvance(self._text) + 4, metrics.height() + 4)

    def minimumSizeHint(self) -> QSize:
        """Next to nothing: it can be shortened."""
        return QSize(20, self.sizeHint().height())

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw what there is room for."""
        painter = QPainter(self)
        font = self._font
        if self._least is not None:
            font = self._look.fitting(
                self._text, self.width(), self._pixels, least=self._least, bold=self._bold
            )
        painter.setFont(font)
        painter.setPen(self._look.theme.soft if self._soft else self._look.theme.ink)
        shown = painter.fontMetrics().elidedText(self._text, Qt.TextElideMode.ElideRight, self.width())
        side = Qt.AlignmentFlag.AlignRight if self._right else Qt.AlignmentFlag.AlignLeft
        painter.drawText(self.rect(), side | Qt.AlignmentFlag.AlignVCenter, shown)
        painter.end()


def shortened(text: str, metrics: QFontMetrics, width: float) -> str:
    """The text in so many pixels, with what tells one of a pair from the other: the longest word gives way first.

    `regulated +` and `regulated -` keep their signs, which dots at the end or in the middle would swallow.
    """
    words = text.split(" ")
    while metrics.horizontalAdvance(shown := " ".join(words)) > width:
        stems = [word.rstrip(_DOTS) for word in words]
        # Figures and signs are what differs; of words their first letters are enough.
        long = [at for at, stem in enumerate(stems) if stem.isalpha() and len(stem) > 1]
        if not long:
            return metrics.elidedText(" ".join(stems), Qt.TextElideMode.ElideMiddle, int(width))
        at = max(long, key=lambda one: len(stems[one]))
        words[at] = stems[at][:-1] + _DOTS
    return shown


_DOTS = "\N{HORIZONTAL ELLIPSIS}"
