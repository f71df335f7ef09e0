"""The window's end of the process that foretells: asked without waiting, one question at a time."""

import logging
import sys
from collections import deque
from collections.abc import Callable, Sequence

from PySide6.QtCore import QCoreApplication, QObject, QProcess, QProcessEnvironment, QTimer

from benchlog.electronics.asked import READY, Answer, Question

Then = Callable[[Answer], None]
log = logging.getLogger(__name__)
LIVES = 3
"""How often it is started before it is left alone."""
LOADS_FOR, ANSWERS_FOR = 60_000, 10_000
"""Milliseconds it may take to load, and for one answer; then it hangs, and is ended."""
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What keeps its arithmetic from taking every core: the guard needs one."""
PARTING = 300
"""Milliseconds it may take to end in order when the window closes."""
MOST = 400
"""Questions that may wait: more than a run of many stages has, and no more than is soon answered."""


class ForecasterLink(QObject):
    """Starts the process at the first question; one that dies or hangs costs nothing but its answers."""

    def __init__(self, command: Sequence[str] | None = None) -> None:
        """Nothing is started yet; `command` stands in for the real process."""
        super().__init__()
        self._command = list(command or (sys.executable, "-m", "benchlog.electronics"))
        self._process: QProcess | None = None
        self._lives = LIVES
        self._ready = False
        self._closed = False
        self._waiting: deque[tuple[Question, Then]] = deque()
        self._asked: tuple[Question, Then] | None = None
        self._patience = QTimer(self)
        self._patience.setSingleShot(True)
        self._patience.timeout.connect(self._hung)

    @property
    def pid(self) -> int:
        """The process's number, 0 where none runs."""
        return self._process.processId() if self._process is not None else 0

    @property
    def available(self) -> bool:
        """Whether there is, or may yet be, anybody to ask."""
        return not self._closed and (self._process is not None or self._lives > 0)

    def waits_for(self, key: str) -> bool:
        """Whether a question of that key is not answered yet."""
        asked = self._asked is not None and self._asked[0].key == key
        return asked or any(question.key == key for question, _ in self._waiting)

    def ask(self, question: Question, then: Then) -> None:
        """Ask; `then` hears the answer, or nothing ever. A newer question of the same key takes the place of one."""
        if not self.available:
            return
        if self._process is None:
            self._start()
        kept = [one for one in self._waiting if one[0].key != question.key]
        self._waiting = deque([*kept, (question, then)][-MOST:])
        self._next()

    def forget(self, begins: str) -> None:
        """Ask no more of what has such a key."""
        self._waiting = deque(one for one in self._waiting if not one[0].key.startswith(begins))

    def close(self) -> None:
        """End it in order, by force where it hangs."""
        self._closed = True
        self._waiting.clear()
        self._patience.stop()
        process, self._process = self._process, None
        if process is None:
            return
        process.closeWriteChannel()
        if process.state() is not QProcess.ProcessState.NotRunning and not process.waitForFinished(PARTING):
            process.kill()
            process.waitForFinished(PARTING)
        process.deleteLater()

    # --- the process ---------------------------------------------------------------------------------

    def _start(self) -> None:
        app = QCoreApplication.instance()
        if app is not None and self._lives == LIVES:
            app.aboutToQuit.connect(self.close)
        self._lives -= 1
        self._ready = False
        process = self._process = QProcess(self)
        process.setStandardErrorFile(QProcess.nullDevice())
        environment = QProcessEnvironment.systemEnvironment()
        for name in ONE_THREAD:
            environment.insert(name, "1")
        process.setProcessEnvironment(environment)
        process.readyReadStandardOutput.connect(self._read)
        process.finished.connect(self._ended)
        process.errorOccurred.connect(self._failed)
        process.start(self._command[0], self._command[1:])
        self._patience.start(LOADS_FOR)

    def _next(self) -> None:
        """Ask the oldest question, once the one before is answered."""
        if self._process is None or not self._ready or self._asked is not None or not self._waiting:
            return
        self._asked = self._waiting.popleft()
        self._process.write(f"{self._asked[0].line()}\n".encode())
        self._patience.start(ANSWERS_FOR)

    def _read(self) -> None:
        while self._process is not None and self._process.canReadLine():
            self._hear(bytes(self._process.readLine().data()).decode("utf-8", "replace").strip())

    def _hear(self, line: str) -> None:
        self._patience.stop()
        asked, self._asked = self._asked, None
        if line == READY:
            self._ready = True
        elif asked is not None:
            self._answered(line, *asked)
        self._next()

    def _answered(self, line: str, question: Question, then: Then) -> None:
        try:
            answer = Answer.of(line)
        except ValueError as error:
            log.warning("no answer to %s of %s: %s", question.kind, question.key, error)
            return
        if answer.key == question.key:
            then(answer)

    def _hung(self) -> None:
        log.warning("what makes forecasts hangs: it is ended")
        if self._process is not None:
            self._process.kill()

    def _ended(self) -> None:
        """It died, or was ended: what it was asked is asked no more, the rest once it runs again."""
        if self._process is None:
            return
        self._process.deleteLater()
        self._process = None
        self._asked = None
        self._patience.stop()
        if self._lives > 0:
            self._start()
        else:
            self._waiting.clear()

    def _failed(self, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart and self._process is not None:
            self._lives = 0
            self._ended()
