"""The line of text above a graph: a moment of the run, and what every trace read then."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.domain.plan_trace import shown
from benchlog.window.graph_scene import TraceLine
from benchlog.window.look import Look
from benchlog.window.series import Series

TEXT = 14.0


@dataclass(frozen=True, slots=True)
class Told:
    """What one trace read: its name, colour, and the value in words, empty where it read nothing then."""

    name: str
    colour: int
    words: str


def told_at(lines: Sequence[TraceLine], series: Mapping[str, Series], t: float | None) -> tuple[Told, ...]:
    """What each trace read at a moment, or last of all with None."""
    return tuple(Told(line.name, line.colour, _words(line, series[line.name], t)) for line in lines)


def _words(line: TraceLine, series: Series, t: float | None) -> str:
    if t is None:
        value = series.last
    else:
        found = series.near(t)
        value = found[1] if found is not None else None
    return "" if value is None else shown(value, line.unit, line.digit)


class Readout(QWidget):
    """Names and values in slots that stay where they are, in as many lines as the width asks for."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._when = ""
        self._over = False
        self._told: tuple[Told, ...] = ()
        self._slots: list[QPointF] = []
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.restyle()

    def restyle(self) -> None:
        """Take colours and fonts anew."""
        self._font, self._bold = self._look.font(TEXT), self._look.font(TEXT, bold=True)
        self._metrics, self._bold_metrics = QFontMetricsF(self._font), QFontMetricsF(self._bold)
        self._place()
        self.update()

    def lie_over(self) -> None:
        """Lie over what it tells of, and let the pointer through."""
        self._over = True
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.raise_()

    def tell(self, when: str, told: tuple[Told, ...]) -> None:
        """Show what was read at a moment."""
        names = [one.name for one in self._told]
        if (when, told) == (self._when, self._told):
            return
        self._when, self._told = when, told
        if names != [one.name for one in told]:
            self._place()
        self.update()

    @property
    def words(self) -> str:
        """All of it in one sentence, for who cannot see it."""
        values = ", ".join(f"{one.name} {one.words or 'no reading'}" for one in self._told)
        return f"{self._when}: {values}" if values else self._when

    def _place(self) -> None:
        """Give each trace a slot wide enough for any value, in rows."""
        gap = self._metrics.horizontalAdvance("mm")
        value = self._metrics.horizontalAdvance(" -000.00 mV")
        row = self._metrics.height() + 2.0
        x, y = self._metrics.horizontalAdvance("newest 0:00:00") + gap, 0.0
        self._slots = []
        for one in self._told:
            wide = self._bold_metrics.horizontalAdvance(one.name) + value
            if x + wide > self.width() and x > 0.0:
                x, y = 0.0, y + row
            self._slots.append(QPointF(x, y))
            x += wide + gap
        high = round(y + row) + 2
        if high != self.height() or self.minimumHeight() != high:
            self.setFixedHeight(high)

    def resizeEvent(self, _event: QResizeEvent) -> None:
        """Fill the rows anew."""
        self._place()

    def sizeHint(self) -> QSize:
        """One slot wide at least; the height follows the width."""
        return QSize(200, self.height())

    def minimumSizeHint(self) -> QSize:
        """As the size hint."""
        return self.sizeHint()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Write it."""
        painter = QPainter(self)
        theme = self._look.theme
        if self._over:
            painter.fillRect(self.rect(), theme.page)
        base = self._metrics.ascent()
        painter.setFont(self._font)
        painter.setPen(theme.soft)
        painter.drawText(QPointF(0.0, base), self._when)
        for one, slot in zip(self._told, self._slots, strict=True):
            painter.setFont(self._bold)
            painter.setPen(theme.traces[one.colour % len(theme.traces)])
            painter.drawText(slot + QPointF(0.0, base), one.name)
            wide = self._bold_metrics.horizontalAdvance(one.name + " ")
            painter.setFont(self._font)
            painter.setPen(theme.ink if one.words else theme.soft)
            painter.drawText(slot + QPointF(wide, base), one.words or "\N{EN DASH}")
        painter.end()
