"""The panels of a graph on pyqtgraph, of which this file alone knows.

Handed in is one finished picture (`Frame`), never a history: pyqtgraph gets as many columns as there are
pixels. A line is drawn as one upright stroke a column, two pixels wide, filled without a pen: that costs a
third of a millisecond at any scale, where a pen of two pixels costs twenty.
"""

import math
from collections.abc import Callable

import numpy as np
import pyqtgraph as pg
from pyqtgraph.Qt.internals import PrimitiveArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen, QPixmap, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QStyleOptionGraphicsItem, QWidget

from benchlog.window import graph_ink
from benchlog.window.graph_frame import Frame, Line, Pane
from benchlog.window.graph_ink import Ink
from benchlog.window.look import Look
from benchlog.window.series import Stroke

THICK = 2.0
"""A line's width in logical pixels: read at arm's length."""

THIN = 1.0
"""The width of an older run's line."""

DASH, SPACE = 8, 5
"""The right side: so many columns drawn, so many left out."""

ALWAYS = 5.0
"""A stroke at least this tall is drawn even where a dash is left out: no spike is hidden."""

TICK = 5.0
"""How tall the tick is, at the foot of a panel, where a line begins anew: a gap narrower than a pixel is seen by it."""

STILL = 4.0
"""A hand that clicks moves less than so many pixels."""

APART = 10.0
FIRST_PANEL = 1.6
"""The first panel, the rails, is so many times as tall as the others."""

LEAST_PANEL = 3.2
"""A panel is never lower than so many lines of text; where that is too much for all, they scroll."""


class _Panel(pg.GraphicsWidget):  # type: ignore[misc]  # pyqtgraph carries no types
    """One card with its lines, bands and limit lines; what is written on it comes with the ink."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._rects = PrimitiveArray(QRectF, 4)
        self._kept: dict[str, tuple[tuple[object, ...], list[Stroke], QPixmap]] = {}
        self.pane: Pane | None = None
        self.frame: Frame | None = None

    def show_pane(self, frame: Frame, pane: Pane) -> None:
        """Take what is to be drawn."""
        self.frame, self.pane = frame, pane
        self.update()

    def paint(self, painter: QPainter, _option: QStyleOptionGraphicsItem, _widget: QWidget) -> None:
        """Draw the card and what lies in it."""
        theme = self._look.theme
        rect = QRectF(QPointF(0.0, 0.0), self.size())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.hairline, 1.0))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(rect.adjusted(0.5, 0.5, -0.5, -0.5), 6.0, 6.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        if self.frame is None or self.pane is None:
            return
        inner = rect.adjusted(1.0, 1.0, -1.0, -1.0)
        painter.setClipRect(inner)
        self._bands(painter, self.frame, self.pane, rect)
        for value, word in self.pane.scale.ticks:
            if not word:
                continue
            y = graph_ink.y_of(self.pane, rect, value)
            painter.fillRect(QRectF(inner.left(), y, inner.width(), 1.0), theme.hairline)
        for bound in self.pane.bounds:
            y = graph_ink.y_of(self.pane, rect, bound.value)
            if not bound.looks:
                painter.setPen(QPen(theme.soft, 1.0, Qt.PenStyle.DashLine))
                painter.drawLine(QPointF(inner.left(), round(y)), QPointF(inner.right(), round(y)))
            else:
                painter.fillRect(QRectF(inner.left(), y - 0.75, inner.width(), 1.5), theme.danger)
        painter.setPen(Qt.PenStyle.NoPen)
        self._others(painter, self.frame, self.pane, rect)
        for line in self.pane.lines:
            if line.letter:
                continue
            painter.setBrush(graph_ink.line_colour(line, theme))
            self._line(painter, line, self.frame, self.pane, rect)
            for column in line.stroke.gaps.tolist():
                painter.drawRect(QRectF(column, inner.bottom() - TICK, 1.0, TICK))

    def _others(self, painter: QPainter, frame: Frame, pane: Pane, rect: QRectF) -> None:
        """Other runs' lines, drawn once for as long as the picture stands still: a live graph moves by columns.

        Those held against one trace together, since they are shown as far as that one goes.
        """
        ratio = painter.device().devicePixelRatioF()
        by_trace: dict[str, list[Line]] = {}
        for line in pane.lines:
            if line.letter:
                by_trace.setdefault(line.name, []).append(line)
        place = (frame.t0, frame.t1, pane.scale.low, pane.scale.high, rect.width(), rect.height(), ratio)
        for name, lines in by_trace.items():
            asked = (*place, self._look.theme.name, *(line.rank for line in lines))
            kept = self._kept.get(name)
            same = kept is not None and kept[0] == asked and len(kept[1]) == len(lines)
            if (
                kept is None
                or not same
                or any(old is not one.stroke for old, one in zip(kept[1], lines, strict=True))
            ):
                kept = (
                    asked,
                    [line.stroke for line in lines],
                    self._picture(lines, frame, pane, rect, ratio),
                )
                self._kept[name] = kept
            until = lines[0].until
            wide = rect.width() if until is None else min(max(0.0, until), rect.width())
            source = QRectF(0.0, 0.0, wide * ratio, rect.height() * ratio)
            painter.drawPixmap(QRectF(0.0, 0.0, wide, rect.height()), kept[2], source)
        self._kept = {name: self._kept[name] for name in by_trace}

    def _picture(self, lines: list[Line], frame: Frame, pane: Pane, rect: QRectF, ratio: float) -> QPixmap:
        made = QPixmap(max(1, math.ceil(rect.width() * ratio)), max(1, math.ceil(rect.height() * ratio)))
        made.setDevicePixelRatio(ratio)
        made.fill(Qt.GlobalColor.transparent)
        within = QPainter(made)
        within.setPen(Qt.PenStyle.NoPen)
        for line in lines:
            within.setBrush(graph_ink.line_colour(line, self._look.theme))
            self._line(within, line, frame, pane, rect)
        within.end()
        return made

    def _bands(self, painter: QPainter, frame: Frame, pane: Pane, rect: QRectF) -> None:
        for band in pane.bands:
            left = max(0.0, frame.share(band.from_t)) * rect.width()
            right = (1.0 if band.to_t is None else min(1.0, frame.share(band.to_t))) * rect.width()
            top, bottom = (graph_ink.y_of(pane, rect, value) for value in (band.high, band.low))
            if right > left:
                painter.fillRect(
                    QRectF(left, top, right - left, max(2.0, bottom - top)), self._look.theme.here_pale
                )

    def _line(self, painter: QPainter, line: Line, frame: Frame, pane: Pane, rect: QRectF) -> None:
        """One upright stroke for each column."""
        stroke, scale = line.stroke, pane.scale
        per = rect.height() / (scale.high - scale.low)
        top = (scale.high - stroke.high) * per
        tall = (stroke.high - stroke.low) * per
        column = stroke.column
        if line.dashed:
            # Counted from time 0, so that the dashes move with the readings.
            kept = ((column + frame.first) % (DASH + SPACE) < DASH) | (tall >= ALWAYS)
            column, top, tall = column[kept], top[kept], tall[kept]
        if not len(column):
            return
        thick = THICK if line.rank == 0 else THIN
        self._rects.resize(len(column))
        room = self._rects.ndarray()
        room[:, 0] = column - (thick - 1.0) / 2.0
        room[:, 1] = np.round(top - thick / 2.0)
        room[:, 2] = thick
        room[:, 3] = np.round(tall) + thick
        painter.drawRects(*self._rects.drawargs())


def _shares(count: int) -> list[float]:
    """How the height is shared among the panels."""
    return [FIRST_PANEL if i == 0 and count > 1 else 1.0 for i in range(count)]


class _Over(pg.GraphicsObject):  # type: ignore[misc]  # pyqtgraph carries no types
    """What is written over all panels."""

    def __init__(self, draw: Callable[[QPainter], None]) -> None:
        super().__init__()
        self._draw = draw
        self._rect = QRectF()
        self.setZValue(10.0)

    def cover(self, rect: QRectF) -> None:
        """Lie over all of that."""
        if rect != self._rect:
            self.prepareGeometryChange()
            self._rect = rect

    def boundingRect(self) -> QRectF:
        """What it covers."""
        return self._rect

    def paint(self, painter: QPainter, _option: QStyleOptionGraphicsItem, _widget: QWidget) -> None:
        """Write it."""
        self._draw(painter)


class Plot(pg.GraphicsView):  # type: ignore[misc]  # pyqtgraph carries no types
    """Panels stacked over one time base.

    It says what the pointer does in shares of the panels' width, and redraws nothing by itself: `resized` asks
    for a new picture.
    """

    resized = Signal()
    zoomed = Signal(float, float)
    """By which factor, and about which share of the width."""
    dragged = Signal(float)
    """By which share of the width the picture was pulled to the right."""
    scrolled = Signal(int)
    """How far the wheel was turned, eighths of a degree, while not all panels are in view."""
    pointed = Signal(float)
    """The share of the width the pointer is at; negative where it has left."""
    pressed = Signal(float)
    """The share of the width at which the left button went down; `released` when it came up again."""
    released = Signal()
    clicked = Signal(float)
    """The share of the width at which it came up where it had gone down."""

    def __init__(self, look: Look) -> None:
        super().__init__(background=None, useOpenGL=False)
        self._look = look
        self.ink = Ink(look)
        self._panels: list[_Panel] = []
        self._frame: Frame | None = None
        self._names: tuple[str, ...] = ()
        self._labels: tuple[str, ...] = ()
        self._flags = False
        self._pulled: float | None = None
        self._pressed_at = 0.0
        self._moved = False
        self._over = _Over(self._write)
        self.scene().addItem(self._over)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setFrameShape(pg.GraphicsView.Shape.NoFrame)
        self.viewport().setAutoFillBackground(False)
        self.restyle()

    # --- what it consists of ---------------------------------------------------------------------

    def set_panels(self, count: int, names: tuple[str, ...], *, flags: bool) -> None:
        """Stack so many panels; `names` are those that stand at the right ends."""
        while len(self._panels) > count:
            self.scene().removeItem(self._panels.pop())
        while len(self._panels) < count:
            panel = _Panel(self._look)
            self._panels.append(panel)
            self.scene().addItem(panel)
        self._names, self._flags = names, flags
        least = LEAST_PANEL * self.ink.line
        self.setMinimumHeight(math.ceil(self._fixed() + sum(_shares(count)) * least + (count - 1) * APART))
        self._arrange()

    def set_labels(self, labels: tuple[str, ...]) -> None:
        """Make room for what stands at the ends of other runs' lines."""
        if labels != self._labels:
            self._labels = labels
            self._arrange()

    def restyle(self) -> None:
        """Take colours and fonts anew."""
        self.ink = Ink(self._look)
        self.setBackgroundBrush(self._look.theme.page)
        self._arrange()
        self.viewport().update()

    def _fixed(self) -> float:
        """The height of what is no panel."""
        return self.ink.head(flags=self._flags) + self.ink.line + 10.0

    def _arrange(self) -> None:
        """Give everything its place, by the fonts."""
        size = self.viewport().size()
        wide, high = float(size.width()), float(size.height())
        left = round(self.ink.axis_width())
        right = wide - round(self.ink.names_width(self._names, self._labels, wide * 0.3))
        count = len(self._panels)
        shares = _shares(count)
        unit = max(1.0, (high - self._fixed() - (count - 1) * APART) / max(1.0, sum(shares)))
        y = self.ink.head(flags=self._flags)
        for panel, share in zip(self._panels, shares, strict=True):
            rect = QRectF(left, round(y), max(1.0, right - left), max(1.0, round(share * unit)))
            panel.setGeometry(rect)
            y += share * unit + APART
        self._over.cover(QRectF(0.0, 0.0, wide, high))

    @property
    def columns(self) -> int:
        """How many columns a panel has."""
        return max(1, round(self._panels[0].size().width())) if self._panels else 1

    def height_of(self, panel: int) -> float:
        """How high a panel is."""
        return float(self._panels[panel].size().height())

    @property
    def moments(self) -> int:
        """How many times the time scale has room for."""
        return max(1, int(self.columns / (2.2 * self.ink.metrics.horizontalAdvance("0:00:00"))))

    # --- drawing ---------------------------------------------------------------------------------

    def show_frame(self, frame: Frame) -> None:
        """Show another picture."""
        self._frame = frame
        for panel, pane in zip(self._panels, frame.panes, strict=True):
            panel.show_pane(frame, pane)
        self._over.update()

    def _write(self, painter: QPainter) -> None:
        if self._frame is not None and len(self._frame.panes) == len(self._panels):
            rects = [panel.geometry() for panel in self._panels]
            seen = self.visibleRegion().boundingRect()
            bottom = seen.bottom() + 1 if not seen.isEmpty() else self.height()
            self.ink.draw(painter, self._frame, rects, float(self.viewport().width()), float(bottom))

    # --- what the pointer does -------------------------------------------------------------------

    def _share(self, x: float) -> float:
        if not self._panels:
            return 0.0
        rect = self._panels[0].geometry()
        return (x - float(rect.left())) / float(rect.width())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Rearrange."""
        super().resizeEvent(event)
        if hasattr(self, "_over"):
            self._arrange()
            self.resized.emit()

    def minimumSizeHint(self) -> QSize:
        """As narrow as may be; the height is set by the panels."""
        return QSize(180, self.minimumHeight())

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the pointer, or slide along."""
        turn = event.angleDelta()
        around = self.parentWidget()
        held = event.modifiers() & Qt.KeyboardModifier.ControlModifier
        if around is not None and around.height() < self.height() and not held:
            self.scrolled.emit(turn.y())
        elif abs(turn.x()) > abs(turn.y()):
            self.dragged.emit(turn.x() / 1200.0)
        else:
            self.zoomed.emit(
                1.2 ** (-turn.y() / 120.0), min(1.0, max(0.0, self._share(event.position().x())))
            )
        event.accept()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the picture."""
        if event.button() is Qt.MouseButton.LeftButton:
            self._pulled = self._pressed_at = event.position().x()
            self._moved = False
            self.pressed.emit(self._share(self._pulled))
        event.ignore()  # the graph around it takes the focus

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Pull the picture, or point at a time."""
        x = event.position().x()
        if self._pulled is not None:
            self._moved = self._moved or abs(x - self._pressed_at) >= STILL
            self.dragged.emit(self._share(x) - self._share(self._pulled))
            self._pulled = x
        share = self._share(x)
        self.pointed.emit(share if 0.0 <= share <= 1.0 else -1.0)
        event.accept()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go; where it was only a press, it was a click."""
        if self._pulled is not None:
            share = self._share(event.position().x())
            if not self._moved and 0.0 <= share <= 1.0:
                self.clicked.emit(share)
            self.released.emit()
        self._pulled = None
        event.accept()

    def leaveEvent(self, event: object) -> None:
        """The pointer has left."""
        del event
        self.pointed.emit(-1.0)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keys are the graph's around it."""
        event.ignore()
