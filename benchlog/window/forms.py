"""Pieces of forms: fields with their names above them, Enter that goes on, columns that follow the width."""

from collections.abc import Callable, Iterable

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchlog.window.page import label

GAP = 12
ENTER = (Qt.Key.Key_Enter, Qt.Key.Key_Return)


def press(text: str, does: Callable[[], None], *, main: bool = False, hint: str = "") -> QPushButton:
    """A button; `main` marks the one the eye should find first."""
    made = QPushButton(text.replace("&", "&&"))
    made.setProperty("main", main)
    made.setAccessibleName(text)
    if hint:
        made.setToolTip(hint)
    made.clicked.connect(lambda _=False: does())
    return made


def row(*widgets: QWidget, stretch: bool = True) -> QHBoxLayout:
    """Widgets side by side, pushed to the left."""
    made = QHBoxLayout()
    made.setSpacing(8)
    for widget in widgets:
        made.addWidget(widget)
    if stretch:
        made.addStretch(1)
    return made


def empty(layout: QBoxLayout | QGridLayout) -> None:
    """Take every widget out of a layout for good."""
    while (item := layout.takeAt(0)) is not None:
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
        elif isinstance(inner, QBoxLayout | QGridLayout):
            empty(inner)


def scrolled(content: QWidget) -> QScrollArea:
    """The content in an area that scrolls up and down only."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setWidget(content)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area


class Columns(QWidget):
    """Widgets in as many equal columns as there is room for, `least` pixels each, `most` of them."""

    def __init__(self, least: int, most: int = 4) -> None:
        super().__init__()
        self._least, self._most = least, most
        self._shown: list[QWidget] = []
        self._count = 0
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(GAP)

    def put(self, widgets: Iterable[QWidget]) -> None:
        """Show these in the place of those before, which are gone for good unless they are among them."""
        wanted = list(widgets)
        for old in self._shown:
            self._grid.removeWidget(old)
            if old not in wanted:
                self.drop(old)
        self._shown = wanted
        self._count = 0
        self._lay_out()

    def drop(self, widget: QWidget) -> None:
        """What becomes of a widget that is not shown any more."""
        widget.hide()
        widget.deleteLater()

    def minimumSizeHint(self) -> QSize:
        """No wider than one column: there may be fewer of them at any time."""
        widest = max((widget.minimumSizeHint().width() for widget in self._shown), default=0)
        return QSize(min(self._least, max(widest, 1)), self._grid.minimumSize().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width may want another number of columns."""
        super().resizeEvent(event)
        self._lay_out()

    def _lay_out(self) -> None:
        count = max(1, min(self._most, (self.width() + GAP) // (self._least + GAP)))
        if count == self._count:
            return
        for widget in self._shown:
            # Not by takeAt: its item would live on, and the widget would tell that one of its new size.
            self._grid.removeWidget(widget)
        for column in range(self._grid.columnCount()):
            self._grid.setColumnStretch(column, 1 if column < count else 0)
        self._count = count
        for at, widget in enumerate(self._shown):
            self._grid.addWidget(widget, at // count, at % count)
            widget.show()
        for column in range(count):
            self._grid.setColumnStretch(column, 1)


class TwoSides(QWidget):
    """Two columns side by side, one above the other below `narrow` pixels of width."""

    def __init__(self, narrow: int = 820, shares: tuple[int, int] = (1, 1)) -> None:
        super().__init__()
        self._narrow = narrow
        self.one, self.other = QWidget(), QWidget()
        self.left, self.right = QVBoxLayout(self.one), QVBoxLayout(self.other)
        self._box = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(2 * GAP)
        for side, column, share in ((self.one, self.left, shares[0]), (self.other, self.right, shares[1])):
            column.setContentsMargins(0, 0, 0, 0)
            column.setSpacing(GAP)
            self._box.addWidget(side, share)

    def minimumSizeHint(self) -> QSize:
        """No wider than the wider one: they may stand one above the other at any time."""
        wide = max(self.one.minimumSizeHint().width(), self.other.minimumSizeHint().width())
        return QSize(wide, self._box.minimumSize().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """One column or two."""
        super().resizeEvent(event)
        beside = self.width() >= self._narrow
        way = QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom
        if self._box.direction() != way:
            self._box.setDirection(way)


class Views(QWidget):
    """Several views in one place, one of them shown; the hidden ones take no room."""

    def __init__(self) -> None:
        super().__init__()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._views: list[QWidget] = []
        self.shown: QWidget | None = None

    def add(self, view: QWidget) -> None:
        """One more, hidden."""
        view.hide()
        self._views.append(view)
        self._column.addWidget(view)

    def show_only(self, view: QWidget) -> None:
        """Show this one."""
        self.shown = view
        for other in self._views:
            other.setVisible(other is view)


class Fields(Columns):
    """Named fields; Enter goes from one to the next, `finished` behind the last, `left` on Escape."""

    finished = Signal()
    left = Signal()

    def __init__(self, least: int = 230, most: int = 3) -> None:
        super().__init__(least, most)
        self._cells: list[QWidget] = []
        self._inputs: list[QWidget] = []
        self._away: set[QWidget] = set()

    def drop(self, widget: QWidget) -> None:
        """A cell without meaning may come back."""
        widget.hide()

    def add(self, name: str, field: QWidget, hint: str = "") -> QWidget:
        """One more field under its name, a hint below; its cell, to be hidden where it has no meaning."""
        cell = QWidget()
        column = QVBoxLayout(cell)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        above = label(name, "soft")
        above.setBuddy(field)
        column.addWidget(above)
        column.addWidget(field)
        field.setAccessibleName(name)
        if hint:
            field.setToolTip(hint)
            below = label(hint, "soft", wrap=True)
            column.addWidget(below)
        column.addStretch(1)
        field.installEventFilter(self)
        self._cells.append(cell)
        self._inputs.append(field)
        self.put(self._cells)
        return cell

    def text(self, name: str, hint: str = "", placeholder: str = "") -> QLineEdit:
        """A field for a line of text."""
        field = QLineEdit()
        field.setPlaceholderText(placeholder)
        self.add(name, field, hint)
        return field

    def choice(self, name: str, hint: str = "") -> QComboBox:
        """A field for one of several."""
        field = QComboBox()
        # As wide as the column, whatever stands in the list.
        field.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        field.setMinimumContentsLength(8)
        field.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.add(name, field, hint)
        return field

    def want(self, cell: QWidget, wanted: bool) -> None:
        """Show a cell, or leave it out where it has no meaning just now."""
        (self._away.discard if wanted else self._away.add)(cell)
        self.put([one for one in self._cells if one not in self._away])

    def wants(self, cell: QWidget) -> bool:
        """Whether a cell has a meaning just now."""
        return cell not in self._away

    def begin(self) -> None:
        """Put the cursor into the first field."""
        self._inputs[0].setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter goes on, Escape leaves."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
            return True
        if event.key() in ENTER and watched in self._inputs:
            self._go_on(watched)
            return True
        return False

    def _go_on(self, field: QObject) -> None:
        at = self._inputs.index(field)  # type: ignore[arg-type]  # one of them, as was looked up
        following = [one for one in self._inputs[at + 1 :] if one.parentWidget() not in self._away]
        if following:
            following[0].setFocus(Qt.FocusReason.TabFocusReason)
        else:
            self.finished.emit()
