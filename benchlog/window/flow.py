"""Small widgets side by side that go on in the next line where there is no room, as words do."""

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

GAP = 5
"""Pixels between two of them, and between two lines."""


class Flow(QLayout):
    """Each as wide as it would like to be; those that are hidden take no room."""

    def __init__(self, *widgets: QWidget) -> None:
        super().__init__()
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)
        for widget in widgets:
            self.addWidget(widget)

    def addItem(self, item: QLayoutItem) -> None:
        """One more, behind the others."""
        self._items.append(item)

    def count(self) -> int:
        """How many there are."""
        return len(self._items)

    def itemAt(self, at: int) -> QLayoutItem | None:
        """One of them."""
        return self._items[at] if 0 <= at < len(self._items) else None

    def takeAt(self, at: int) -> QLayoutItem | None:
        """Let go of one."""
        return self._items.pop(at) if 0 <= at < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        """It wants no more room than it needs."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """The narrower, the higher."""
        return True

    def heightForWidth(self, width: int) -> int:
        """How high it is in so much width."""
        return self._lay(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, rect: QRect) -> None:
        """Lay them out."""
        super().setGeometry(rect)
        self._lay(rect, move=True)

    def sizeHint(self) -> QSize:
        """All in one line."""
        shown = [item.sizeHint() for item in self._items if not item.isEmpty()]
        wide = sum(size.width() for size in shown) + GAP * max(0, len(shown) - 1)
        return QSize(wide, max((size.height() for size in shown), default=0))

    def minimumSize(self) -> QSize:
        """The widest alone: the others may stand below it."""
        shown = [item.minimumSize() for item in self._items if not item.isEmpty()] or [QSize(0, 0)]
        return QSize(max(size.width() for size in shown), max(size.height() for size in shown))

    def _lay(self, rect: QRect, *, move: bool) -> int:
        """Go through the lines; how high all of them are."""
        x, y, high = rect.x(), rect.y(), 0
        for item in self._items:
            if item.isEmpty():
                continue
            size = item.sizeHint()
            if x > rect.x() and x + size.width() > rect.x() + rect.width():
                x, y, high = rect.x(), y + high + GAP, 0
            wide = min(size.width(), rect.width())
            if move:
                item.setGeometry(QRect(x, y, wide, size.height()))
            x += size.width() + GAP
            high = max(high, size.height())
        return y + high - rect.y()
