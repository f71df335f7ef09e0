"""The unit page: a unit made, opened or taken in hand, its visit, its boards and their parts."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog import textfile
from benchlog.domain.unit import PartEntry, UnitFile
from benchlog.errors import BenchlogError
from benchlog.store import edit, edit_boards
from benchlog.store.edit_boards import Copied
from benchlog.store.library import Library
from benchlog.window import keys, words
from benchlog.window.choose_file import ChooseFile
from benchlog.window.fault_list import FaultList, counted
from benchlog.window.forms import GAP, Views, press, scrolled
from benchlog.window.handing_over import reasons_to_wait
from benchlog.window.keys import Action
from benchlog.window.page import Page, label
from benchlog.window.shapes import Shape
from benchlog.window.unit_acts import Seen, TakenIn, look, read_example, take_in, under_way
from benchlog.window.unit_at_hand import UnitAtHand
from benchlog.window.unit_form import UnitForm
from benchlog.window.unit_start import UnitStart
from benchlog.window.work import Work

T = TypeVar("T")


class UnitPage(Page):
    """Everything about the thing on the bench; what it does to the library can be taken back."""

    title = words.UNIT
    place = keys.UNIT

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.seen: Seen | None = None
        self._here = False
        self._stale = True
        self._changing = False
        self._to_unit = False
        """Whether the unit at hand is to be shown as soon as it is read."""
        self.start = UnitStart(work)
        self.form = UnitForm(work.look)
        self.choose = ChooseFile(work.look, work.shelf, "Open a unit file")
        self.at_hand = UnitAtHand(work)
        self.faults = FaultList(work.look)
        self.undo = press("", self._undo)
        self.undo.hide()
        self.views = Views()
        for view in (self.start, self.form, self.choose, self.at_hand):
            self.views.add(view)
        self.views.show_only(self.start)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        content = QWidget()
        column = QVBoxLayout(content)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(GAP)
        top = QHBoxLayout()
        top.addWidget(label(words.UNIT, "soft"))
        top.addStretch(1)
        top.addWidget(self.undo)
        column.addLayout(top)
        column.addWidget(self.faults)
        column.addWidget(self.views, 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(content))

    def _connect(self) -> None:
        shelf = self.work.shelf
        for signal in (shelf.opened, shelf.chosen, shelf.edited):
            signal.connect(self._look_again)
        start, hand = self.start, self.at_hand
        start.new.connect(self._begin_new)
        start.open_file.connect(self._begin_file)
        start.example.connect(self._open_example)
        start.offered.connect(self._open_offered)
        start.taken.connect(self._take_in_hand)
        self.form.filled.connect(self._filled)
        self.form.left.connect(self._home)
        self.choose.chosen.connect(self._open_path)
        self.choose.left.connect(self._home)
        hand.change.connect(self._begin_change)
        hand.another.connect(self.show_start)
        hand.taken_in.connect(self._visit)
        hand.handed_over.connect(self._hand_over)
        hand.kept.connect(self._let_go)
        hand.mirror_changed.connect(self._mirror)
        hand.parts.board_wanted.connect(self._board)
        hand.parts.parts_wanted.connect(self._parts)
        hand.parts.copy_wanted.connect(self._copy)

    # --- what is shown -------------------------------------------------------------------------------

    def came(self) -> None:
        """Look at the library again where it changed meanwhile."""
        self._here = True
        if self._stale:
            self._look_again()
        elif self.views.shown is self.start:
            self.start.begin()

    def left(self) -> None:
        """What changes from now on is looked at later."""
        self._here = False

    def _look_again(self) -> None:
        """Read what is shown; only while somebody looks, or nothing is known yet."""
        self._stale = True
        shelf = self.work.shelf
        if not self._here and self.seen is not None and not self._another_unit():
            return
        unit = shelf.unit.id if shelf.unit is not None else ""
        shelf.read(lambda folder: look(folder, unit), self._show, self._unknown, owner=self, key="unit page")

    def _another_unit(self) -> bool:
        known = (
            self.seen.at_hand.line.unit if self.seen is not None and self.seen.at_hand is not None else None
        )
        chosen = self.work.shelf.unit
        return (known and known.id) != (chosen and chosen.id)

    def _show(self, seen: Seen) -> None:
        first = self.seen is None
        self.seen = seen
        self._stale = False
        if self._put_right(seen):
            return  # it is read again with what is at hand now
        unit = seen.at_hand.line.unit.id if seen.at_hand is not None else ""
        self.start.show_lines(seen.lines, unit)
        self.undo.setText(f"Take back: {seen.undo}".replace("&", "&&"))
        self.undo.setVisible(bool(seen.undo))
        if seen.at_hand is not None:
            self.at_hand.put(seen.at_hand)
            if self._to_unit:
                self._view(self.at_hand)
            self._to_unit = False
        elif self.views.shown is self.at_hand:
            self.show_start()
        if first and self._here and self.views.shown is self.start:
            self.start.begin()
        self._stand(seen)

    def _unknown(self, error: BenchlogError) -> None:
        """What the library has cannot be read: there are the ways to begin all the same."""
        if self.seen is None:
            self.start.show_lines((), "")
        self.work.shelf.troubled.emit(error)

    def _put_right(self, seen: Seen) -> bool:
        """Have at hand what the library has: after an undo, a change or a hand-over it may be another."""
        shelf, at_hand = self.work.shelf, seen.at_hand
        if shelf.unit is None:
            return False
        if at_hand is None:
            shelf.choose(None, None)
            return True
        unit, visit, round_ = at_hand.line.unit, at_hand.visit, shelf.round
        same = shelf.visit is not None and visit is not None and shelf.visit.id == visit.id
        known = round_ is not None and round_.id in {one.id for one in at_hand.rounds}
        if not (same and known):
            round_ = under_way(at_hand.line)
        if (shelf.unit, shelf.visit, shelf.round) == (unit, visit, round_):
            return False
        shelf.choose(unit, visit, round_)
        return True

    def _stand(self, seen: Seen) -> None:
        if seen.at_hand is None:
            self.work.stand(words.UNIT, Shape.TO_DO)
        elif seen.at_hand.visit is None:
            self.work.stand(words.UNIT, Shape.DOUBT, "not taken in")
        else:
            self.work.stand(words.UNIT, Shape.GOOD, seen.at_hand.visit.label)

    def _view(self, view: QWidget) -> None:
        self.faults.clear()
        self.views.show_only(view)
        if view is self.at_hand and self._here:
            # Its keys lead on; what had them before is hidden now.
            self.setFocus()
            self.at_hand.onward.settle()

    def typed(self, event: QKeyEvent) -> bool:
        """A key that is held down acts once."""
        return event.isAutoRepeat() and self.work.keys.action(event, self.place) is not None

    def act(self, action: Action) -> bool:
        """With a unit at hand the keys lead on to the next place of the job."""
        return self.views.shown is self.at_hand and self.at_hand.onward.act(action)

    def show_start(self) -> None:
        """The first page: ways to begin, and the units there are."""
        self._view(self.start)
        self.start.begin()

    def _home(self) -> None:
        """Back to the unit at hand, or to the first page."""
        if self.seen is not None and self.seen.at_hand is not None:
            self._view(self.at_hand)
        else:
            self.show_start()

    # --- a unit taken in hand ------------------------------------------------------------------------

    def _begin_new(self) -> None:
        self._view(self.form)
        self._changing = False
        self.form.begin_new()

    def _begin_change(self) -> None:
        if self.seen is not None and self.seen.at_hand is not None:
            self._view(self.form)
            self._changing = True
            self.form.begin_change(self.seen.at_hand.line.unit)

    def _begin_file(self) -> None:
        self._view(self.choose)
        self.choose.begin()

    def _open_path(self, path: Path) -> None:
        self._open(lambda: textfile.read(path, UnitFile), path.name)

    def _open_example(self, name: str) -> None:
        self._open(lambda: read_example(name), name)

    def _open_offered(self) -> None:
        offer = self.work.offer
        self._open(lambda: textfile.parse(offer.unit_text, offer.unit_name, UnitFile), offer.unit_name)

    def _open(self, read: Callable[[], UnitFile], name: str) -> None:
        def failed(error: BenchlogError) -> None:
            faults = counted(len(error.faults), "thing")
            self.faults.tell(error, f"{name} was not opened: {faults} to mend in it. Nothing was changed.")

        self.faults.clear()
        self.work.shelf.off_thread(read, self._take_in, failed, owner=self)

    def _take_in(self, file: UnitFile) -> None:
        self._edit(lambda library: take_in(library, file), self._have, self.form.refuse)

    def _have(self, taken: TakenIn) -> None:
        if taken.known:
            self.work.say(f"{taken.unit.name} is known already: taken in hand as it is there.")
        self._to_unit = True
        self.work.shelf.choose(taken.unit, taken.visit, taken.round)

    def _take_in_hand(self, unit_id: str) -> None:
        lines = self.seen.lines if self.seen is not None else ()
        line = next((line for line in lines if line.unit.id == unit_id), None)
        if line is not None:
            visit = line.visit if line.visit is not None and line.visit.closed is None else None
            self._to_unit = True
            self.work.shelf.choose(line.unit, visit, under_way(line))

    def _filled(self, file: UnitFile) -> None:
        at_hand = self.seen.at_hand if self.seen is not None else None
        if not self._changing or at_hand is None:
            self._take_in(file)
            return
        changed = replace(
            at_hand.line.unit,
            name=file.name,
            maker=file.maker,
            model=file.model,
            serial=file.serial,
            mains=file.mains,
            note=file.note,
        )
        self._edit(
            lambda library: edit.change_unit(library, changed), lambda _: self._home(), self.form.refuse
        )

    # --- acts on the unit at hand --------------------------------------------------------------------

    def _edit(
        self,
        work: Callable[[Library], T],
        then: Callable[[T], None] | None = None,
        failed: Callable[[BenchlogError], None] | None = None,
    ) -> None:
        self.work.shelf.edit(work, then, failed or self.work.say_error, owner=self)

    def _let_go(self) -> None:
        """Take the keys from a button that is about to go, or the next in line would hear the second Enter."""
        self.setFocus()

    def _unit_id(self) -> str:
        unit = self.work.shelf.unit
        return unit.id if unit is not None else ""

    def _visit(self, complaint: str, mains: float | None) -> None:
        unit, shelf = self.work.shelf.unit, self.work.shelf
        self._let_go()
        if unit is not None:
            self._edit(
                lambda library: edit.open_visit(library, unit.id, complaint, mains),
                lambda visit: shelf.choose(unit, visit),
            )

    def _hand_over(self, asked: bool) -> None:
        """The visit is over; what speaks against that is asked about first."""
        unit, visit, shelf = self.work.shelf.unit, self.work.shelf.visit, self.work.shelf
        self._let_go()
        if unit is None or visit is None:
            return

        def close() -> None:
            self._edit(
                lambda library: edit.close_visit(library, visit.id), lambda _: shelf.choose(unit, None)
            )

        def found(reasons: tuple[str, ...]) -> None:
            if not reasons:
                close()
            elif shelf.visit is visit:
                self.at_hand.ask_first(reasons)

        if asked:
            close()
        else:
            shelf.read(
                lambda folder: reasons_to_wait(folder, unit, visit),
                found,
                self.work.say_error,
                owner=self,
                key="hand over",
            )

    def _mirror(self, rules: tuple[str, ...], pairs: Mapping[str, str]) -> None:
        unit = self.work.shelf.unit
        if unit is not None:
            changed = replace(unit, mirror=rules, pairs=pairs)
            self._edit(lambda library: edit.change_unit(library, changed), None, self.at_hand.refuse_mirror)

    def _board(self, name: str) -> None:
        unit, parts = self._unit_id(), self.at_hand.parts
        self._edit(
            lambda library: edit.add_board(library, unit, name), lambda _: parts.board_added(), parts.refuse
        )

    def _parts(self, board: str, entries: list[PartEntry]) -> None:
        parts = self.at_hand.parts
        self._edit(
            lambda library: edit.add_parts(library, board, entries),
            lambda _: parts.parts_added(),
            parts.refuse,
        )

    def _copy(self, board: str, name: str) -> None:
        unit, parts = self.work.shelf.unit, self.at_hand.parts

        def done(copied: Copied) -> None:
            there = f", {counted(len(copied.there), 'part')} stood there already" if copied.there else ""
            self.work.say(f"{counted(copied.made, 'part')} copied to {copied.board}{there}.")
            parts.board_added()

        if unit is not None:
            self._edit(lambda library: edit_boards.copy_board(library, unit, board, name), done, parts.refuse)

    def _undo(self) -> None:
        def done(label_: str) -> None:
            self.work.say(f"Taken back: {label_}." if label_ else "There is nothing to take back.")

        self._edit(edit.undo, done)
