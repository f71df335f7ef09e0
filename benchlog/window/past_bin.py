"""The line below the list of runs: how many are deleted, and how they come back or go for good."""

from collections.abc import Sequence

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog.store import bin as deleted
from benchlog.store.bin import Binned
from benchlog.window.page import label
from benchlog.window.parts_current import small_button
from benchlog.window.past_row import local
from benchlog.window.work import Work


class BinLine(QWidget):
    """Shown where there are deleted runs; the one deleted last comes back first."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._binned: tuple[Binned, ...] = ()
        self._sure = False
        self.says = label(rank="soft", wrap=True)
        self.back = small_button("bring it back")
        self.back.clicked.connect(self._bring_back)
        self.empty = small_button("")
        self.empty.clicked.connect(self._empty)
        row = QHBoxLayout()
        row.setSpacing(5)
        row.addWidget(self.back)
        row.addWidget(self.empty)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.says)
        column.addLayout(row)
        self.hide()

    def show_binned(self, binned: Sequence[Binned]) -> None:
        """Show these in place of those before."""
        if tuple(binned) != self._binned:
            self._sure = False
        self._binned = tuple(binned)
        self.setVisible(bool(binned))
        if not binned:
            return
        line = binned[0].line
        named = f"{line.plan_name or line.title or line.file.stem}, {local(line.started)}"
        count = f"{len(binned)} runs are deleted, last" if len(binned) > 1 else "One run is deleted"
        self.says.setText(f"{count}: {named}.")
        self._name()

    def _name(self) -> None:
        count = len(self._binned)
        what = "it" if count == 1 else f"all {count}"
        self.empty.setText(f"really remove {what} for good" if self._sure else f"remove {what} for good")

    def _bring_back(self) -> None:
        id_ = self._binned[0].id
        self._work.shelf.edit(
            lambda library: deleted.bring_back(library, id_), None, self._work.say_error, owner=self
        )

    def _empty(self) -> None:
        """Asked twice: nothing leads back from here."""
        if not self._sure:
            self._sure = True
            self._name()
            return
        self._sure = False
        self._work.shelf.edit(deleted.empty, None, self._work.say_error, owner=self)
