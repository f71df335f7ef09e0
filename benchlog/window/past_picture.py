"""The graph of a run as a picture to take away: light on white whatever the window wears, as dots or as lines."""

from dataclasses import replace

from PySide6.QtCore import QBuffer, QIODevice, QObject, QPoint, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgGenerator
from PySide6.QtWidgets import QGraphicsView

from benchlog.window.graph import RunGraph
from benchlog.window.look import LIGHT, Look, palette_of
from benchlog.window.sheet import style_sheet

SIZE = QSize(1600, 1000)
HEAD, EDGE = 74, 24
"""Pixels above the graph for what it is of, and around it."""
TWICE = 2.0
"""A picture of dots has so many for each pixel: it is printed."""


class Paper(Look):
    """The light theme on white; it dresses nothing but what is drawn with it."""

    def __init__(self) -> None:
        QObject.__init__(self)
        self.theme = replace(LIGHT, page=QColor("white"))

    def set_theme(self, name: str) -> None:
        """Paper stays white."""
        del name


class Picture:
    """A graph that is never shown, to be filled as the one on screen and then drawn."""

    def __init__(self) -> None:
        self._paper = Paper()
        self.graph = RunGraph(self._paper)
        self.graph.setPalette(palette_of(self._paper.theme))
        self.graph.setStyleSheet(style_sheet(self._paper.theme_names()))
        for view in self.graph.findChildren(QGraphicsView):
            # A cached background is dots in the midst of lines.
            view.setCacheMode(QGraphicsView.CacheModeFlag.CacheNone)

    def png(self, title: str, about: str) -> bytes:
        """As dots; on the GUI's thread, which a picture needs, and without a file."""
        image = QImage(SIZE * TWICE, QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(TWICE)
        image.fill(self._paper.theme.page)
        self._draw(QPainter(image), title, about)
        held = QBuffer()
        held.open(QIODevice.OpenModeFlag.WriteOnly)
        image.save(held, "PNG")  # type: ignore[call-overload]  # its stubs want bytes, Qt wants text
        return bytes(held.data().data())

    def svg(self, title: str, about: str) -> bytes:
        """As lines and text, to be scaled at will."""
        held = QBuffer()
        held.open(QIODevice.OpenModeFlag.WriteOnly)
        drawing = QSvgGenerator()
        drawing.setOutputDevice(held)
        drawing.setSize(SIZE)
        drawing.setViewBox(QRect(QPoint(0, 0), SIZE))
        drawing.setTitle(title)
        drawing.setDescription(about)
        self._draw(QPainter(drawing), title, about)
        return bytes(held.data().data())

    def _draw(self, painter: QPainter, title: str, about: str) -> None:
        theme, paper = self._paper.theme, QRectF(QPoint(0, 0), SIZE)
        painter.fillRect(paper, theme.page)
        painter.setPen(theme.ink)
        painter.setFont(self._paper.font(22, bold=True))
        inner = paper.adjusted(EDGE, 12, -EDGE, -12)
        flags = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop
        painter.drawText(inner, flags, title)
        painter.setPen(theme.soft)
        painter.setFont(self._paper.font(14))
        painter.drawText(inner.adjusted(0, 32, 0, 0), flags, about)
        self.graph.resize(SIZE.width() - 2 * EDGE, SIZE.height() - HEAD - EDGE)
        # Grabbed once, it is laid out without being shown; only then there is a width to draw for.
        self.graph.grab()
        self.graph.redraw()
        self.graph.render(painter, QPoint(EDGE, HEAD))
        painter.end()
