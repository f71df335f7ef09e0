"""The frame: steps at the left, meters along the foot, CUT at its right end, and the pages between.

Every key press passes here first. The cut comes before everything else, also from a text field.
"""

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent, QWindow
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QHBoxLayout,
    QMainWindow,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.cut_screen import CutScreen
from benchlog.window.focus import Focus
from benchlog.window.foot import Foot
from benchlog.window.header import Header
from benchlog.window.keys import AFTER, EVERYWHERE, Action, is_cut
from benchlog.window.notices import Above, Notices
from benchlog.window.page import Page, label, line
from benchlog.window.run_view import Phase
from benchlog.window.steps import Steps
from benchlog.window.work import Work

SLIM_BELOW = 1000
"""Pixels of width below which the steps show no more than shape and word."""

_TO = {
    Action.TO_UNIT: words.UNIT,
    Action.TO_BENCH: words.BENCH,
    Action.TO_PARTS: words.PARTS,
    Action.TO_POWER_UP: words.POWER_UP,
    Action.TO_PAST_RUNS: words.PAST_RUNS,
    Action.TO_KEYS: words.KEYS,
    Action.TO_WIRING: words.WIRING,
}
BESIDE = (words.PAST_RUNS, words.WIRING, words.KEYS)
"""Pages that are no step of the job."""
UNIT_IS_ON = "The unit is on."
_ENTER = (Qt.Key.Key_Enter, Qt.Key.Key_Return)


class Frame(QMainWindow):
    """The window; `going` when it was closed for good, `muted` when the sound was switched.

    `start_recorder` when its key was pressed.
    """

    going = Signal()
    muted = Signal()
    start_recorder = Signal()
    look_back = Signal()

    def __init__(self, work: Work, pages: list[Page]) -> None:
        super().__init__()
        self.work = work
        self.pages = {page.title: page for page in pages}
        self._asked_to_close = False
        self._said_live = False
        self._leaving = False
        self._typed_at = -1
        """When the newest key press came that was meant for a text field."""
        self.setWindowTitle("benchlog")
        self.setMinimumSize(640, 560)
        self.resize(1440, 900)
        named = [(page.title, self._key_of(page.title)) for page in pages]
        job = [one for one in named if one[0] not in BESIDE]
        beside = [one for one in named if one[0] in BESIDE]
        self.steps = Steps(work.look, job, beside)
        work.keys_changed.connect(
            lambda: self.steps.name_keys({page.title: self._key_of(page.title) for page in pages})
        )
        self.notices = Notices(work.look)
        self.foot = Foot(work)
        self.cut_screen = CutScreen(work)
        self.focus = Focus(work, self)
        self.strip = label("Live. Keys go elsewhere: click here, or press CUT.")
        self.strip.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.strip.hide()
        self.stack = QStackedWidget()
        for page in pages:
            self.stack.addWidget(page)
        self.whole = QStackedWidget()
        self.whole.addWidget(self._desk())
        self.whole.addWidget(self.cut_screen)
        self.setCentralWidget(self.whole)
        self._connect()
        self.go_to(pages[0].title)
        application = QApplication.instance()
        if application is not None:
            application.installEventFilter(self)

    def _desk(self) -> QWidget:
        desk = QWidget()
        middle = QHBoxLayout()
        middle.setContentsMargins(0, 0, 0, 0)
        middle.setSpacing(0)
        middle.addWidget(self.steps)
        middle.addWidget(line(upright=True))
        middle.addWidget(self.stack, 1)
        column = QVBoxLayout(desk)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        for widget in (Header(self.work), line()):
            column.addWidget(widget)
        column.addLayout(middle, 1)
        column.addWidget(line())
        column.addWidget(self.foot)
        Above(desk, self.strip, self.notices)
        return desk

    def _connect(self) -> None:
        work, runner, shelf = self.work, self.work.runner, self.work.shelf
        self.steps.asked.connect(self.go_to)
        work.step_stands.connect(self.steps.stand)
        work.go_to.connect(self.go_to)
        work.said.connect(self.notices.say)
        work.unsaid.connect(self.notices.take_back)
        shelf.troubled.connect(work.say_error)
        shelf.waiting.connect(self.notices.wait)
        runner.refused.connect(work.say_error)
        runner.noticed.connect(self._notice)
        runner.phase_changed.connect(self._phase)
        runner.changed.connect(self._leave_if_off)
        runner.changed.connect(self._still_live)
        runner.tripped.connect(self._tripped)
        runner.pedal.connect(self._pedal)
        runner.alone.connect(self._alone)
        self.foot.cut.connect(self.cut)
        self.cut_screen.left.connect(self.leave_cut)
        self.cut_screen.note.connect(self._leave_for_note)
        self.cut_screen.look_back.connect(self._look_back)
        self.cut_screen.answered.connect(self._answer)
        self.focus.elsewhere.connect(self._elsewhere)
        work.look.changed.connect(self._dress)
        self._dress()

    def _key_of(self, title: str) -> str:
        action = next(action for action, name in _TO.items() if name == title)
        return self.work.keys.name(action, EVERYWHERE)

    # --- where one is --------------------------------------------------------------------------------

    @property
    def page(self) -> Page:
        """The page that is shown."""
        shown = self.stack.currentWidget()
        assert isinstance(shown, Page)  # noqa: S101 - nothing else is ever put there
        return shown

    def go_to(self, title: str) -> None:
        """Show a page by its title."""
        page = self.pages.get(title)
        if page is None:
            return
        if self.whole.currentIndex() == 1:
            self.leave_cut()
        before = self.page
        self.stack.setCurrentWidget(page)
        self.steps.choose(title)
        if before is not page:
            before.left()
        # A field of the page before must not go on hearing keys.
        page.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        page.setFocus()
        page.came()

    def show_cut(self) -> None:
        """Give the whole window to what happened."""
        self.whole.setCurrentWidget(self.cut_screen)
        self.cut_screen.setFocus()
        self.cut_screen.refresh()

    def leave_cut(self) -> None:
        """Back to the page that was shown."""
        self.whole.setCurrentIndex(0)
        self.page.setFocus()

    def _tripped(self, _: messages.Trip) -> None:
        self.show_cut()
        self.cut_screen.settle()

    def _pedal(self, pedal: messages.Pedal) -> None:
        """One that takes does so where readings are taken, whatever window has the keys; elsewhere it is nothing."""
        if pedal.does != "cut" and self.whole.currentIndex() == 0:
            self.page.tread(pedal.does)

    def _answer(self, yes: bool) -> None:
        self.work.runner.answer(yes=yes)

    def _note_after_cut(self) -> None:
        """A note goes into the run while it is logged; after that it is written on the past run."""
        view = self.work.runner.view
        if view.is_open and not view.lost:
            self.cut_screen.note.emit()

    def _leave_for_note(self) -> None:
        self.go_to(words.POWER_UP)
        self.page.act(Action.NOTE)

    def _look_back(self) -> None:
        self.leave_cut()
        self.look_back.emit()

    # --- keys ----------------------------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hear every key press of this window before anybody else; the cut from any window of the program."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if is_cut(event, self.work.keys) and self.work.runner.may_be_on:
            if not event.isAutoRepeat():
                self.cut()
            return True
        return self._is_ours(watched) and not self._was_typed(watched, event) and self._key(event)

    def _was_typed(self, watched: QObject, event: QKeyEvent) -> bool:
        """Whether a text field has had this press: Enter goes on to what is around it, where it would act again."""
        if isinstance(watched, QWindow):
            self._typed_at = event.timestamp() if Focus.is_text(QApplication.focusWidget()) else -1
            return False
        return event.timestamp() == self._typed_at and not Focus.is_text(watched)

    def _is_ours(self, watched: QObject) -> bool:
        if isinstance(watched, QWindow):
            return watched is self.windowHandle() and QApplication.activePopupWidget() is None
        return isinstance(watched, QWidget) and watched.window() is self

    def _key(self, event: QKeyEvent) -> bool:
        keys, page = self.work.keys, self.page
        field = QApplication.focusWidget()
        after = self.whole.currentWidget() is self.cut_screen
        # A page's own keys go before the usual ones of everywhere.
        everywhere = keys.action(event, EVERYWHERE, AFTER if after else page.place)
        if everywhere in _TO:
            self.go_to(_TO[everywhere])
            return True
        if everywhere is Action.MUTE:
            self.muted.emit()
            return True
        if everywhere is Action.START_RECORDER:
            self.start_recorder.emit()
            return True
        if after:
            return self._key_after_cut(event)
        if Focus.is_text(field):
            return False
        if isinstance(field, QAbstractButton) and event.key() in _ENTER:
            if not event.isAutoRepeat():
                field.click()
            return True
        if page.typed(event):
            return True
        action = keys.action(event, page.place) if page.place else None
        return action is not None and page.act(action)

    def _key_after_cut(self, event: QKeyEvent) -> bool:
        acts: dict[Action, Callable[[], None]] = {
            Action.END: self.cut_screen.press_end,
            Action.LAST_SECONDS: self.cut_screen.look_back.emit,
            Action.NOTE: self._note_after_cut,
        }
        action = self.work.keys.action(event, AFTER)
        if action in acts and not event.isAutoRepeat():
            acts[action]()
        return True

    def cut(self) -> None:
        """The operator's cut: sent first, shown after."""
        self.work.runner.cut()
        if self.work.runner.view.is_live:
            self.show_cut()

    def _alone(self, text: str) -> None:
        """A cut that no recorder carried out: said as loud as there is."""
        self.work.say(text, grave=True)
        if self.work.runner.view.lost:
            self.show_cut()
        if self.work.voice is not None:
            self.work.voice.warn(text)

    # --- what happens --------------------------------------------------------------------------------

    def _phase(self, phase: Phase) -> None:
        view = self.work.runner.view
        self.notices.be_live(live=view.is_live)
        if not view.is_live:
            self.notices.take_back(UNIT_IS_ON)
        self._asked_to_close = False
        self._said_live = phase is Phase.OFF and view.was_cut
        if self._said_live:
            self._call_for_off()

    def _call_for_off(self) -> None:
        self.show_cut()
        if self.work.voice is not None:
            self.work.voice.cut()

    def _still_live(self) -> None:
        """An off in good order that does not come is as loud as a cut."""
        view = self.work.runner.view
        if view.phase is Phase.OFF and view.failed and not view.seen_off and not self._said_live:
            self._said_live = True
            self._call_for_off()

    def _leave_if_off(self) -> None:
        view = self.work.runner.view
        if self._leaving and not view.is_live and not view.still_doubted:
            self.close()

    def _notice(self, notice: messages.Notice) -> None:
        fix = f"; {notice.fix}" if notice.fix else ""
        self.work.say(f"{notice.place}: {notice.problem}{fix}.", grave=notice.grave)

    def _elsewhere(self, away: bool) -> None:
        self.strip.setVisible(away)

    def _dress(self) -> None:
        theme = self.work.look.theme
        self.strip.setStyleSheet(
            f"background: {theme.danger.name()}; color: {theme.on_danger.name()}; font-weight: bold; padding: 6px;"
        )

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Less room for the steps where the window is narrow."""
        super().resizeEvent(event)
        self.steps.be_slim(slim=self.width() < SLIM_BELOW)

    def closeEvent(self, event: QCloseEvent) -> None:
        """While the unit may be on the first try says so; the second cuts, and goes once off was seen or kept."""
        runner, view = self.work.runner, self.work.runner.view
        why = ""
        if view.is_live:
            why = f"{UNIT_IS_ON} Cut first, or close once more: that cuts and leaves."
        elif view.still_doubted:
            why = "The unit was not seen off yet. Pull the plug; close once more to leave all the same."
        if why and not self._asked_to_close:
            self._asked_to_close = True
            event.ignore()
            self.leave_cut()  # Where it can be read.
            self.work.say(why, grave=True)
            return
        if runner.may_be_on:
            runner.cut("cut: the window was closed")
        if view.is_live and not self._leaving:
            # Somebody must be able to see whether it went off, and to say so where a hand switches.
            self._leaving = True
            event.ignore()
            self.show_cut()
            return
        application = QApplication.instance()
        if application is not None:
            application.removeEventFilter(self)
        self.focus.close()
        event.accept()
        self.going.emit()
