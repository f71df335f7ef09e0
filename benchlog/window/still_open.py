"""What the unit at hand still has on its open list, for the pages that ask before power or hand-over."""

from PySide6.QtCore import QObject

from benchlog.domain.putback import before_power
from benchlog.store import query_unit
from benchlog.store.query_unit import OpenItem
from benchlog.window.work import Work


class StillOpen(QObject):
    """Read when somebody looks, and anew after the library changed."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._shelf = work.shelf
        self._unit = ""
        self._items: tuple[OpenItem, ...] = ()
        self._stale = True
        for signal in (self._shelf.opened, self._shelf.chosen, self._shelf.edited):
            signal.connect(self._forget)

    def _forget(self) -> None:
        self._stale = True

    def items(self) -> tuple[OpenItem, ...]:
        """What is open as far as it is known now; it is read meanwhile where it may have changed."""
        unit = self._shelf.unit.id if self._shelf.unit is not None else ""
        if unit != self._unit:
            self._unit, self._items = unit, ()
        if self._stale and unit:
            self._stale = False
            self._shelf.read(
                lambda folder: (unit, query_unit.still_open(folder, unit)),
                self._show,
                owner=self,
                key="still open",
            )
        return self._items

    def _show(self, found: tuple[str, tuple[OpenItem, ...]]) -> None:
        unit, items = found
        if unit == self._unit:
            self._items = items

    def sentences(self) -> tuple[str, ...]:
        """A sentence for each, as it is said before power is put on."""
        return before_power((item.kind, item.text) for item in self.items())
