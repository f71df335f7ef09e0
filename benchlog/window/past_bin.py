"""The line below the list of runs: how many are deleted, and how they come back or go for good."""

from collections.abc import Sequence

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog.store import bin as deleted
from benchlog.store.bin import Binned
from benchlog.store.records import SessionLine
from benchlog.window.page import label
from benchlog.window.parts_current import small_button
from benchlog.window.past_row import deleted_words, local
from benchlog.window.work import Work


class BinLine(QWidget):
    """Shown where there are deleted runs; the one deleted last comes back first."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._binned: tuple[Binned, ...] = ()
        self._last: SessionLine | None = None
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

    def show_binned(self, binned: Sequence[Binned], last: SessionLine | None) -> None:
        """Show these in place of those before; `last` is the line of the first of them."""
        if tuple(binned) != self._binned:
            self._sure = False
        self._binned, self._last = tuple(binned), last
        self.setVisible(bool(binned))
        if last is None:
            return
        named = f"{last.plan_name or last.title or last.file.stem}, {local(last.started)}"
        count = f"{len(binned)} runs are deleted, last" if len(binned) > 1 else "One run is deleted"
        self.says.setText(f"{count}: {named}.")
        self._name()

    def _name(self) -> None:
        count = len(self._binned)
        what = "it" if count == 1 else f"all {count}"
        self.empty.setText(f"really remove {what} for good" if self._sure else f"remove {what} for good")

    def _bring_back(self) -> None:
        id_, last = self._binned[0].id, self._last

        def done(_: None) -> None:
            if last is not None:
                self._work.unsay(deleted_words(local(last.started)))

        self._work.shelf.edit(
            lambda library: deleted.bring_back(library, id_), done, self._work.say_error, owner=self
        )

    def _empty(self) -> None:
        """Asked twice: nothing leads back from here."""
        if not self._sure:
            self._sure = True
            self._name()
            return
        self._sure = False
        self._work.shelf.edit(deleted.empty, None, self._work.say_error, owner=self)
