"""The steps of the job at the left: how each stands, and the way to it."""

from collections.abc import Mapping

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QVBoxLayout, QWidget

from benchlog.window import shapes
from benchlog.window.look import Look
from benchlog.window.page import line
from benchlog.window.shapes import Shape

WIDE, SLIM = 190, 62


class Step(QAbstractButton):
    """One step; the present one carries a blue bar."""

    def __init__(self, look: Look, name: str, key: str, *, shape: Shape | None = Shape.TO_DO) -> None:
        super().__init__()
        self._look = look
        self._name = name
        self._key = key
        self._shape = shape
        self._detail = ""
        self._slim = False
        self.setCheckable(True)
        self.setAutoExclusive(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(name)
        self.setToolTip(f"{name} ({key})")
        look.changed.connect(self.update)

    @property
    def key(self) -> str:
        """The key that leads there."""
        return self._key

    def name_key(self, key: str) -> None:
        """The key that leads there is another from now on."""
        self._key = key
        self.setToolTip(f"{self._name} ({key})")
        self.update()

    def stand(self, shape: Shape, detail: str) -> None:
        """How the step stands."""
        self._shape, self._detail = shape, detail
        self.setAccessibleDescription(f"{shape.value} {detail}")
        self.update()

    def be_slim(self, slim: bool) -> None:
        """Show no more than shape and first word."""
        self._slim = slim
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Room for two lines."""
        return QSize(SLIM if self._slim else WIDE, 54)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect())
        if self.isChecked():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.chosen)
            painter.drawRoundedRect(box.adjusted(2, 2, -4, -2), 8, 8)
            painter.setBrush(theme.here)
            painter.drawRect(QRectF(box.left(), box.top() + 4, 4, box.height() - 8))
        if self._slim:
            self._paint_slim(painter, box)
        else:
            self._paint_wide(painter, box)
        painter.end()

    def _paint_slim(self, painter: QPainter, box: QRectF) -> None:
        theme = self._look.theme
        if self._shape is not None:
            mark = QRectF(box.center().x() - 6, box.top() + 9, 12, 12)
            shapes.draw(painter, mark, self._shape, theme)
        painter.setPen(theme.ink)
        painter.setFont(self._look.fitting(self._name, box.width() - 10, 13, bold=self.isChecked(), least=9))
        low = QRectF(box.left() + 4, box.top() + 24, box.width() - 6, 22)
        painter.drawText(low, Qt.AlignmentFlag.AlignCenter, self._name)

    def _paint_wide(self, painter: QPainter, box: QRectF) -> None:
        theme = self._look.theme
        if self._shape is not None:
            shapes.draw(painter, QRectF(box.left() + 18, box.center().y() - 7, 14, 14), self._shape, theme)
        text = box.adjusted(44, 6, -10, -6)
        painter.setPen(theme.ink)
        painter.setFont(self._look.font(16, bold=self.isChecked()))
        two = bool(self._detail)
        upper = QRectF(text.left(), text.top(), text.width(), text.height() * (0.55 if two else 1.0))
        painter.drawText(upper, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, self._name)
        painter.setPen(theme.soft)
        painter.setFont(self._look.font(12))
        painter.drawText(upper, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self._key)
        if two:
            painter.setFont(self._look.font(13))
            lower = QRectF(text.left(), upper.bottom(), text.width(), text.height() * 0.45)
            shown = painter.fontMetrics().elidedText(
                self._detail, Qt.TextElideMode.ElideRight, int(lower.width())
            )
            painter.drawText(lower, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, shown)


class Steps(QWidget):
    """All steps; `asked` carries the name of the one that was pressed."""

    asked = Signal(str)

    def __init__(self, look: Look, names: list[tuple[str, str]], beside: list[tuple[str, str]]) -> None:
        """`names` are the steps of the job in order with their keys, `beside` what stands below a line."""
        super().__init__()
        self._steps: dict[str, Step] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(6, 10, 0, 10)
        column.setSpacing(2)
        for name, key in names:
            self._add(column, Step(look, name, key), name)
        column.addSpacing(8)
        column.addWidget(line())
        column.addSpacing(8)
        for name, key in beside:
            self._add(column, Step(look, name, key, shape=None), name)
        column.addStretch(1)
        self.be_slim(slim=False)

    def key_of(self, name: str) -> str:
        """The key that leads to a step."""
        return self._steps[name].key

    def name_keys(self, keys: Mapping[str, str]) -> None:
        """The keys of the steps, by their names."""
        for name, key in keys.items():
            self._steps[name].name_key(key)

    def _add(self, column: QVBoxLayout, step: Step, name: str) -> None:
        self._steps[name] = step
        step.clicked.connect(lambda: self.asked.emit(name))
        column.addWidget(step)

    def stand(self, name: str, shape: Shape, detail: str) -> None:
        """How a step stands."""
        if name in self._steps:
            self._steps[name].stand(shape, detail)

    def choose(self, name: str) -> None:
        """Mark the present one."""
        self._steps[name].setChecked(True)

    def be_slim(self, *, slim: bool) -> None:
        """Take less room where the window is narrow."""
        self.setFixedWidth(SLIM + 8 if slim else WIDE + 6)
        for step in self._steps.values():
            step.be_slim(slim)
