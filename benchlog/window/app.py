"""Starts the window: everything is made once here and handed on."""

import logging
import signal
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Signal
from PySide6.QtWidgets import QApplication

from benchlog.window import key_file, words
from benchlog.window.bench_page import BenchPage
from benchlog.window.forecaster_link import ForecasterLink
from benchlog.window.forecasts import Forecasts
from benchlog.window.frame import Frame
from benchlog.window.keys import Keys
from benchlog.window.keys_page import KeysPage
from benchlog.window.link import Link
from benchlog.window.look import Look
from benchlog.window.offer import Offer
from benchlog.window.parts_page import PartsPage
from benchlog.window.past_page import PastPage
from benchlog.window.place import stand
from benchlog.window.powerup_page import PowerUpPage
from benchlog.window.revival import Revival
from benchlog.window.run_keeper import RunKeeper
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.sounder_link import SounderLink
from benchlog.window.tidy import Tidy
from benchlog.window.unit_page import UnitPage
from benchlog.window.voice import Voice
from benchlog.window.wiring_page import WiringPage
from benchlog.window.work import Work

log = logging.getLogger(__name__)
DONE, BUG = 0, 1


def run_window(
    library: Path, offer: Offer | None = None, *, rate: float = 1.0, player: Sequence[str] | None = None
) -> int:
    """Open the window on a library and stay until it is closed; 0, or 1 where a bug was met.

    Args:
        library: its folder; made where it is missing.
        offer: what is offered first on each page.
        rate: speed of plan time; other than 1 for a simulated bench's own addresses alone.
        player: a command in the place of the platform's sound player, for the alarm.
    """
    application = QApplication.instance() or QApplication(["benchlog"])
    assert isinstance(application, QApplication)  # noqa: S101 - another kind would have no windows
    application.setApplicationName("benchlog")
    application.setQuitOnLastWindowClosed(False)
    program = Program(application, library, offer or Offer(), rate, player)
    return program.live()


class Program(QObject):
    """The window with all it stands on, from start to end; `ended` when everything is closed."""

    ended = Signal()

    def __init__(
        self,
        application: QApplication,
        library: Path,
        offer: Offer,
        rate: float = 1.0,
        player: Sequence[str] | None = None,
    ) -> None:
        super().__init__()
        self._bugs = 0
        self._tidy = Tidy()
        self.look = Look(application)
        self.link = Link(player)
        self.runner = Runner(self.link)
        self.runner.rate = rate
        self.shelf = Shelf(library)
        self.work = Work(self.look, Keys(), self.runner, self.shelf, offer)
        self.voice = Voice(SounderLink("tones"), SounderLink("speech"))
        self.work.voice = self.voice
        self.forecaster = ForecasterLink()
        self.work.forecasts = Forecasts(self.work, self.forecaster)
        self.past = PastPage(self.work)
        pages = [
            UnitPage(self.work),
            BenchPage(self.work),
            PartsPage(self.work),
            PowerUpPage(self.work),
            self.past,
            WiringPage(self.work),
            KeysPage(self.work),
        ]
        self.frame = Frame(self.work, pages)
        self.frame.going.connect(self.end)
        self.frame.look_back.connect(self._look_back)
        self.frame.muted.connect(self._mute)
        self.revival = Revival(self.work, self.link)
        self.revival.settled.connect(self.frame.notices.take_back)
        self.frame.start_recorder.connect(self.revival.start)
        self.link.closed.connect(self._recorder_closed)
        self.keeper = RunKeeper(self.work)
        self.shelf.opened.connect(self._opened)
        # What costs time comes after the first picture.
        QTimer.singleShot(0, self, self._begin)

    def live(self) -> int:
        """Show the window and stay until it is closed."""
        sys.excepthook = self._bug
        threading.excepthook = lambda found: self._bug(
            found.exc_type, found.exc_value or found.exc_type(), found.exc_traceback
        )
        if threading.current_thread() is threading.main_thread():
            for number in (signal.SIGINT, signal.SIGTERM):
                # Heard at the next tick of the link, at most a tenth of a second later.
                signal.signal(number, lambda _number, _frame: self._told_to_end())
        self.ended.connect(QCoreApplication.quit)
        stand(self.frame, self.work.offer.beside)
        self.frame.show()
        QCoreApplication.exec()
        sys.excepthook, threading.excepthook = sys.__excepthook__, threading.__excepthook__
        return BUG if self._bugs else DONE

    # --- beginning -----------------------------------------------------------------------------------

    def _begin(self) -> None:
        self.link.start()
        self.voice.open()
        self.shelf.open(self._swept)
        self.shelf.read(key_file.read, self._take_keys, self.work.say_error, owner=self)

    def _mute(self) -> None:
        self.voice.set_muted(not self.voice.muted)
        self.work.say("Sound is off; the alarm sounds all the same." if self.voice.muted else "Sound is on.")

    def _take_keys(self, keys: Keys) -> None:
        self.work.keys = keys
        self.work.keys_changed.emit()

    def _swept(self, sentences: list[str]) -> None:
        for sentence in sentences:
            self.work.say(sentence)

    def _opened(self) -> None:
        if self.work.offer.note:
            self.work.say(self.work.offer.note)
        for page in self.frame.pages.values():
            page.open_offer()

    # --- on the way ----------------------------------------------------------------------------------

    def _look_back(self) -> None:
        view = self.runner.view
        if view.session:
            self.frame.go_to(words.PAST_RUNS)
            moment = view.trip.t / 1e9 if view.trip is not None else view.off_at
            self.past.show_run(Path(view.session), moment)

    # --- ending --------------------------------------------------------------------------------------

    def _told_to_end(self) -> None:
        if self.runner.view.is_live:
            self.runner.cut("cut: the window was told to end")
        # A signal is heard wherever Python happens to be, also in the middle of drawing what would be closed.
        QTimer.singleShot(0, self, self._close_twice)

    def _close_twice(self) -> None:
        self.frame.close()
        if self.frame.isVisible():
            self.frame.close()

    def end(self) -> None:
        """Let the recorder finish, then the library, then the program."""
        self.frame.hide()
        # First: a sounder that hangs is waited for, and what may be live does not wait.
        self.link.close()
        self.voice.close()
        self.forecaster.close()

    def _recorder_closed(self) -> None:
        self.shelf.close()
        self._tidy.close()
        self.ended.emit()

    def _bug(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """A bug: logged, told, and the exit status says so; the recorder guards on meanwhile."""
        self._bugs += 1
        log.error("bug", exc_info=(kind, error, trace))
        sys.__excepthook__(kind, error, trace)
        text = f"benchlog has a bug: {kind.__name__}: {error}. The log has the details."
        QTimer.singleShot(0, self, lambda: self.work.say(text, grave=True))
