"""The recorder as the window has it: asked without waiting, heard as queued signals."""

import threading
import time
from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject, QTimer, Signal

from benchlog.errors import WATCH, BadInput, BenchlogError, Fault, Gone, LinkError
from benchlog.recorder.client import Recorder, messages

TICK = 100
"""Milliseconds between two signs of life of the GUI thread."""
STUCK = 2.0
"""Seconds without one after which no more heartbeats are sent: a window that hangs counts as dead."""

AFTER_DEATH = 15.0
"""Seconds the last cut of a dead recorder may take before a new one is started."""

Then = Callable[[dict[str, object]], None]
Refused = Callable[[BenchlogError], None]


class Link(QObject):
    """One recorder process; `ask` and `send` never wait, all signals come on the GUI thread.

    `heard` carries every message it publishes, `up` that it runs, `failed` why it does not come up, `down` that
    it has ended by itself, and how; `refused` what was refused and nobody wanted to hear himself.
    """

    heard = Signal(object)
    up = Signal()
    failed = Signal(object)
    down = Signal(object)
    refused = Signal(object)
    closed = Signal()
    _came = Signal(object)
    _stillborn = Signal(object)
    _published = Signal(object)

    def __init__(self, player: Sequence[str] | None = None, command: Sequence[str] | None = None) -> None:
        """Start nothing yet; `command` stands in the place of the recorder's own."""
        super().__init__()
        self._player = player
        self._command = command
        self._recorder: Recorder | None = None
        self._dead: Recorder | None = None
        self._waiting: list[tuple[messages.Request, Then | None, Refused | None]] = []
        self._asked: dict[int, tuple[Then | None, Refused | None]] = {}
        self._ticked = time.monotonic()
        self._starting = False
        self._starter: threading.Thread | None = None
        self._born: Recorder | None = None
        self._closing = False
        self._timer = QTimer(self)
        self._timer.setInterval(TICK)
        self._timer.timeout.connect(self._tick)
        self._timer.start()
        self._came.connect(self._take_up)
        self._stillborn.connect(self._take_failure)
        self._published.connect(self._hear)

    @property
    def running(self) -> bool:
        """Whether the recorder runs."""
        return self._recorder is not None and self._recorder.alive

    @property
    def pid(self) -> int:
        """The recorder's process number, 0 where it does not run."""
        return self._recorder.pid if self._recorder is not None else 0

    def start(self) -> None:
        """Start a recorder, in a thread of its own; what was asked meanwhile is sent when it is up."""
        if self.running or self._starting:
            return
        self._starting = True
        self._starter = threading.Thread(target=self._start, name="recorder start", daemon=True)
        self._starter.start()

    def ask(
        self, request: messages.Request, then: Then | None = None, refused: Refused | None = None
    ) -> None:
        """Ask; `then` hears the answer's data, `refused` what is wrong (left out: the signal carries it)."""
        if self._starting:
            self._waiting.append((request, then, refused))
            return
        recorder = self._recorder
        try:
            if recorder is None:
                raise Gone(WATCH, "does not run", "start it again")
            number = recorder.post(request)
        except LinkError as error:
            self._say_refused(error, refused)
            return
        self._asked[number] = (then, refused)

    def send(self, request: messages.Request) -> None:
        """Send what needs no answer; one that cannot be sent is lost, and the recorder's end is told anyway."""
        self.ask(request, None, _nothing)

    def cut_again(self) -> tuple[str, ...]:
        """Send the network cut of the recorder that died once more; where it goes, nothing where it cannot."""
        dead = self._recorder or self._dead
        return dead.cut_again() if dead is not None else ()

    def close(self, seconds: float = 10.0) -> None:
        """End the recorder in a thread of its own; `closed` when it has ended, also one that is only just starting."""
        self._closing = True
        recorder, self._recorder = self._recorder, None
        starter = self._starter if self._starting else None
        if recorder is None and starter is None:
            self._timer.stop()
            self.closed.emit()
            return

        def end() -> None:
            if starter is not None:
                starter.join()
            for one in (recorder, self._born):
                if one is not None:
                    one.close(seconds)
            self.closed.emit()

        threading.Thread(target=end, name="recorder end", daemon=True).start()

    # --- on threads of their own ---------------------------------------------------------------------

    def _start(self) -> None:
        dead = self._dead
        try:
            if dead is not None:
                # Its last cut has the supply's connection; a new recorder would be refused there.
                dead.close(AFTER_DEATH)
            recorder = Recorder.start(
                on_message=self._published.emit,
                player=self._player,
                alive=self._is_alive,
                command=self._command,
            )
        except BenchlogError as error:
            self._stillborn.emit(error)
        except BaseException as error:
            # A bug: told like any other, but nobody goes on waiting for a recorder that will not come.
            self._stillborn.emit(Gone(WATCH, f"did not start ({error})", "look at the log, then start again"))
            raise
        else:
            self._born = recorder
            self._came.emit(recorder)

    def _is_alive(self) -> bool:
        return time.monotonic() - self._ticked < STUCK

    # --- on the GUI thread ---------------------------------------------------------------------------

    def _tick(self) -> None:
        self._ticked = time.monotonic()

    def _take_up(self, recorder: Recorder) -> None:
        self._starting = False
        if self._closing:
            return
        self._born = None
        self._recorder, self._dead = recorder, None
        waiting, self._waiting = self._waiting, []
        for request, then, refused in waiting:
            self.ask(request, then, refused)
        self.up.emit()

    def _take_failure(self, error: BenchlogError) -> None:
        self._starting = False
        waiting, self._waiting = self._waiting, []
        for _, _, refused in waiting:
            self._say_refused(error, refused)
        self.failed.emit(error)

    def _hear(self, message: messages.Message) -> None:
        if isinstance(message, messages.Done | messages.Refused):
            then, refused = self._asked.pop(message.id, (None, _nothing))
            if isinstance(message, messages.Refused):
                self._say_refused(BadInput.of(Fault(*fault) for fault in message.faults), refused)
            elif then is not None:
                then(message.data)
            return
        if isinstance(message, messages.Notice) and message.place == WATCH and self._has_ended:
            self._bury(Gone(message.place, message.problem, message.fix))
        else:
            self.heard.emit(message)

    @property
    def _has_ended(self) -> bool:
        return self._recorder is not None and not self._recorder.alive

    def _bury(self, gone: Gone) -> None:
        self._recorder, self._dead = None, self._recorder
        asked, self._asked = self._asked, {}
        for _, refused in asked.values():
            # Told by `down` as well: only those who wait for their own answer hear it twice.
            (refused or _nothing)(gone)
        self.down.emit(gone)

    def _say_refused(self, error: BenchlogError, refused: Refused | None) -> None:
        if refused is not None:
            refused(error)
        else:
            self.refused.emit(error)


def _nothing(_: BenchlogError) -> None:
    """Where nobody needs to hear of it."""
