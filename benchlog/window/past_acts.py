"""What is done with an open past run: reference, take away, delete, undo; and the parts that were taken in it."""

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchlog.domain.designator import natural
from benchlog.errors import BadInput, BenchlogError
from benchlog.store import bin as deleted
from benchlog.store import good_run, run_facts
from benchlog.store.library import Library
from benchlog.store.run_facts import TakenPart
from benchlog.window.forms import Columns
from benchlog.window.keys import PAST, Action
from benchlog.window.page import label
from benchlog.window.parts_current import small_button
from benchlog.window.past_row import PastRow, deleted_words
from benchlog.window.past_run import PastRun
from benchlog.window.past_take import TakeAway
from benchlog.window.work import Work

WIDE = 128
"""Pixels of the least width of a button; where not all fit in one row they stand in two."""
_MOST_PARTS = 8
"""Parts that are named one by one; of more, how many."""
_DOES = {
    Action.STAGES: "by stage",
    Action.ACCOUNT: "one page",
    Action.COPY: "copy it",
    Action.REFERENCE: "make it the reference",
    Action.TAKE_AWAY: "take away",
    Action.DELETE: "delete",
    Action.UNDO: "undo",
}


class PastActs(QWidget):
    """Small buttons with their keys below the open run.

    `gone` with the file of a run that was deleted; of the open one `asked_stages` for its table, `asked_page` for it
    on one page, `asked_copy` to copy that, `asked_beside` for the runs that may lie beside it.
    """

    gone = Signal(object)
    asked_stages = Signal()
    asked_beside = Signal()
    asked_page = Signal()
    asked_copy = Signal()

    def __init__(
        self, work: Work, found: Callable[[], Sequence[PastRow]], beside: Callable[[], Path | None]
    ) -> None:
        super().__init__()
        self._work = work
        self._run: PastRun | None = None
        self._row: PastRow | None = None
        self._even_reference = False
        self._deleted: dict[str, str] = {}
        """When each run began that was deleted, by the label of the act."""
        self.parts: tuple[TakenPart, ...] = ()
        self.buttons = {action: small_button(does) for action, does in _DOES.items()}
        for action, button in self.buttons.items():
            button.clicked.connect(lambda _=False, action=action: self.act(action))
        self.question = label(rank="danger", wrap=True)
        self.question.hide()
        self.take_away = TakeAway(work, found, beside)
        self.take_away.hide()
        self._taken = QWidget()
        self._taken_row = QHBoxLayout(self._taken)
        self._taken_row.setContentsMargins(0, 0, 0, 0)
        self._taken_row.setSpacing(5)
        row = Columns(WIDE, len(self.buttons))
        row.put(self.buttons.values())
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self._taken)
        column.addWidget(self.take_away)
        column.addWidget(self.question)
        column.addWidget(row)
        work.keys_changed.connect(self._name)
        self.show_run(None, None)

    # --- what it shows -------------------------------------------------------------------------------

    def show_run(self, run: PastRun | None, row: PastRow | None) -> None:
        """Another run is open, the same one a little later, or none; a file nobody can read has its row alone."""
        same = row is not None and self._row is not None and row.file == self._row.file
        self._run, self._row = run, row
        if not same:
            self._ask("")
            self.take_away.hide()
            self._show_parts(())
        if run is not None:
            self._read_parts(run)
        self._name()

    def _name(self) -> None:
        chosen = self._row is not None and self._row.chosen
        for action, button in self.buttons.items():
            does = "no reference any more" if action is Action.REFERENCE and chosen else _DOES[action]
            key = self._work.keys.name(action, PAST)
            button.setText(f"{does} ({key})" if key else does)
            button.setAccessibleName(does)
            needs_run = action not in (Action.UNDO, Action.DELETE)
            button.setEnabled(
                self._run is not None if needs_run else action is Action.UNDO or self._row is not None
            )

    def _ask(self, text: str, *, even_reference: bool = False) -> None:
        self._even_reference = even_reference
        self.question.setText(text)
        self.question.setVisible(bool(text))

    # --- what is done --------------------------------------------------------------------------------

    def act(self, action: Action) -> bool:
        """Do what a key or a button asks for."""
        if action is Action.STAGES:
            if self._run is not None:
                self.asked_stages.emit()
        elif action is Action.BESIDE:
            if self._run is not None:
                self.asked_beside.emit()
        elif action is Action.ACCOUNT:
            self.asked_page.emit()
        elif action is Action.COPY:
            self.asked_copy.emit()
        elif action is Action.REFERENCE:
            self._choose()
        elif action is Action.TAKE_AWAY:
            if self._run is not None and self._row is not None:
                self.take_away.begin(self._run, self._row)
        elif action is Action.DELETE:
            self._delete()
        elif action is Action.UNDO:
            self._undo()
        else:
            return False
        return True

    def _choose(self) -> None:
        run, row = self._run, self._row
        if run is None or row is None:
            return
        change = good_run.let_go if row.chosen else good_run.choose
        said = (
            "is no reference any more"
            if row.chosen
            else "is the reference that later plans of its unit expect"
        )
        self._edit(
            lambda library: change(library, run.file),
            lambda _: self._work.say(f"The run of {row.when} {said}."),
        )

    def _delete(self) -> None:
        row = self._row
        if row is None:
            return
        # One that is live, and not only left open by a recorder that died, is refused where it lies.
        even = self._even_reference

        def refused(error: BenchlogError) -> None:
            if isinstance(error, BadInput) and "is the reference" in error.problem and not even:
                if self._row is None or self._row.file != row.file:
                    return  # another run is open by now: the question would be taken for one about that
                key = self._work.keys.name(Action.DELETE, PAST)
                what = "This run is the reference that later plans of its unit expect."
                self._ask(f"{what} {key} again deletes it all the same.", even_reference=True)
            else:
                self._work.say_error(error)

        def done(label_: str) -> None:
            back = self._work.keys.name(Action.UNDO, PAST)
            self._deleted[label_] = row.when
            self._work.say(f"{deleted_words(row.when)} {back} brings it back, also later.")
            self.gone.emit(row.file)

        self._edit(lambda library: deleted.delete(library, [row.file], even_reference=even), done, refused)

    def _undo(self) -> None:
        def done(label_: str) -> None:
            when = self._deleted.pop(label_, "")
            if when:
                self._work.unsay(deleted_words(when))
                self._work.say(f"Taken back: the run of {when} is there again.")
            else:
                self._work.say(f"Taken back: {label_}." if label_ else "There is nothing to take back.")

        self._edit(deleted.undo_of_runs, done)

    def _edit(
        self,
        work: Callable[[Library], object],
        then: Callable[..., None],
        failed: Callable[[BenchlogError], None] | None = None,
    ) -> None:
        def done(result: object) -> None:
            then(result)
            self._work.reference_changed.emit()

        self._work.shelf.edit(work, done, failed or self._work.say_error, owner=self)

    # --- parts taken in it ---------------------------------------------------------------------------

    def _read_parts(self, run: PastRun) -> None:
        id_ = run.state.head.id

        def came(parts: Sequence[TakenPart]) -> None:
            if self._run is not None and self._run.state.head.id == id_:
                self._show_parts(parts)

        self._work.shelf.read(
            lambda library: run_facts.taken_in(library, id_),
            came,
            owner=self,
            key="parts of a run",
        )

    def _show_parts(self, parts: Sequence[TakenPart]) -> None:
        found = tuple(sorted(parts, key=lambda part: natural(part.designator)))
        if found == self.parts and self._taken_row.count():
            return
        self.parts = found
        while (item := self._taken_row.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._taken.setVisible(bool(found))
        self._taken_row.addWidget(label("parts taken", "soft"))
        for part in found[:_MOST_PARTS]:
            self._taken_row.addWidget(self._part(part))
        if len(found) > _MOST_PARTS:
            self._taken_row.addWidget(label(f"and {len(found) - _MOST_PARTS} more", "soft"))
        self._taken_row.addStretch(1)

    def _part(self, part: TakenPart) -> QPushButton:
        button = small_button(part.designator)
        button.setToolTip("to this part")
        button.setEnabled(bool(part.part))
        button.clicked.connect(lambda _=False: self._work.show_part.emit(part.part, part.designator))
        return button
