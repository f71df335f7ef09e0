"""The window's end of a sounder: a process for tones, another for speech; told without waiting."""

import os
import sys
import time
from collections.abc import Sequence

from PySide6.QtCore import QCoreApplication, QObject, QProcess, QTimer, Signal

MUTE_VARIABLE = "BENCHLOG_MUTE"
"""Set to anything but 0, no sound is ever made: for tests, and for a machine whose sound makes trouble."""
LIVES = 3
"""How often it is started before it is left alone."""
AGAIN_AFTER = 2000
"""Milliseconds from its death to its next start."""
PARTING = 300
"""Milliseconds it may take to end in order when the window closes."""
_LONGEST = 400


class SounderLink(QObject):
    """One sounder; `changed` when it can be heard, no longer can, or starts or stops speaking."""

    changed = Signal()

    def __init__(self, what: str, command: Sequence[str] | None = None) -> None:
        """Nothing is started yet; `what` is `tones` or `speech`, `command` stands in for the real sounder."""
        super().__init__()
        self.what = what
        own = [sys.executable, "-m", "benchlog.window.sounder", what]
        self._command = list(own if command is None else command)
        self._process: QProcess | None = None
        self._lives = LIVES
        self._state = ""
        self._why = "not started yet"
        self._again = QTimer(self)
        self._again.setSingleShot(True)
        self._again.setInterval(AGAIN_AFTER)
        self._again.timeout.connect(self._start)

    @property
    def available(self) -> bool:
        """Whether it can be heard."""
        return self._state in {"yes", "speaking"}

    @property
    def speaking(self) -> bool:
        """Whether it speaks now."""
        return self._state == "speaking"

    @property
    def why_silent(self) -> str:
        """Why it cannot be heard, as the end of a sentence; empty where it can."""
        return "" if self.available else self._why

    @property
    def pid(self) -> int:
        """The process's number, 0 where none runs."""
        return self._process.processId() if self._process is not None else 0

    def open(self) -> None:
        """Start it, unless the environment forbids all sound."""
        if os.environ.get(MUTE_VARIABLE, "0") not in {"", "0"}:
            self._hear(f"no {MUTE_VARIABLE} is set")
        elif self._process is None and not self._again.isActive():
            app = QCoreApplication.instance()
            if app is not None:
                app.aboutToQuit.connect(self.close)
            self._start()

    def tell(self, what: str, text: str = "") -> bool:
        """Ask for something; gives whether it can be heard. What cannot be made in time is left out."""
        if self._process is None or not self.available:
            return False
        asked = " ".join(f"{time.monotonic_ns() // 1_000_000} {what} {text}"[:_LONGEST].split())
        self._process.write(f"{asked}\n".encode())
        return True

    def close(self) -> None:
        """End it in order, by force where it hangs."""
        self._again.stop()
        self._lives = 0
        process, self._process = self._process, None
        if process is None:
            return
        self._hear("no closed")
        process.closeWriteChannel()
        if process.state() is not QProcess.ProcessState.NotRunning and not process.waitForFinished(PARTING):
            process.kill()
            process.waitForFinished(PARTING)
        process.deleteLater()

    def _start(self) -> None:
        if self._lives <= 0:
            return
        self._lives -= 1
        self._process = QProcess(self)
        self._process.setStandardErrorFile(QProcess.nullDevice())
        self._process.readyReadStandardOutput.connect(self._read)
        self._process.finished.connect(self._ended)
        self._process.errorOccurred.connect(self._failed)
        self._process.start(self._command[0], self._command[1:])

    def _read(self) -> None:
        while self._process is not None and self._process.canReadLine():
            self._hear(bytes(self._process.readLine().data()).decode("utf-8", "replace").strip())

    def _hear(self, line: str) -> None:
        self._state, _, why = line.partition(" ")
        self._why = why
        self.changed.emit()

    def _ended(self, status: int, how: QProcess.ExitStatus) -> None:
        """It ends by itself where it can never be heard, and has said why; else it died."""
        if self._process is None:
            return
        self._read()
        self._drop()
        if how is not QProcess.ExitStatus.NormalExit or status or self.available:
            self._hear("no what makes it ended" if self._lives else "no what makes it ended again and again")
            self._again.start()

    def _failed(self, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart:
            self._drop()
            self._lives = 0
            self._hear("no what makes it cannot be started")

    def _drop(self) -> None:
        if self._process is not None:
            self._process.deleteLater()
            self._process = None
