"""The window's end of the search for instruments: a process that lists or asks, heard without waiting."""

import json
import sys
from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import QCoreApplication, QObject, QProcess, QTimer, Signal

LIST_SECONDS = 20.0
ASK_SECONDS = 30.0
"""Longest search, and longest asking at one address; then the process is ended."""


class Finder(QObject):
    """One search at a time: `found` carries a find, `doing` what is being done, `ended` why it ended or nothing."""

    found = Signal(object)
    doing = Signal(str)
    ended = Signal(str)

    def __init__(self, command: Sequence[str] | None = None) -> None:
        """`command` stands in for the real search."""
        super().__init__()
        own = [sys.executable, "-m", "benchlog.instruments.finding"]
        self._command = list(own if command is None else command)
        self._process: QProcess | None = None
        self._due: list[list[str]] = []
        self._rest = b""
        self._step = ""
        self._trouble = ""
        self._limit = QTimer(self)
        self._limit.setSingleShot(True)
        self._limit.timeout.connect(self._too_long)
        app = QCoreApplication.instance()
        if app is not None:
            app.aboutToQuit.connect(self.close)

    @property
    def at_work(self) -> bool:
        """Whether a search goes on."""
        return self._process is not None

    def list_places(self) -> None:
        """List ports and resources; nothing is opened."""
        self._begin([[]], LIST_SECONDS)

    def ask(self, addresses: Sequence[str], folders: Sequence[str]) -> None:
        """Ask at these, one after the other, what is there."""
        known = [word for folder in folders for word in ("--profiles", folder)]
        self._begin([[*known, address] for address in addresses], ASK_SECONDS)

    def stop(self) -> None:
        """End it; what was found stays."""
        self._due = []
        if self._process is not None:
            self._process.kill()

    def close(self) -> None:
        """End it, and wait for that end."""
        self.stop()
        if self._process is not None:
            self._process.waitForFinished(2000)

    def _begin(self, due: list[list[str]], seconds: float) -> None:
        if self.at_work or not due:
            return
        self._due = due
        self._trouble = ""
        self._limit.setInterval(round(seconds * 1000))
        self._next()

    def _next(self) -> None:
        arguments = self._due.pop(0)
        self._rest, self._step = b"", ""
        process = self._process = QProcess(self)
        process.setStandardErrorFile(QProcess.nullDevice())
        process.readyReadStandardOutput.connect(self._hear)
        process.finished.connect(self._finished)
        process.errorOccurred.connect(self._failed)
        self._limit.start()
        process.start(self._command[0], [*self._command[1:], *arguments])

    def _hear(self) -> None:
        if self._process is None:
            return
        data = bytes(self._process.readAllStandardOutput().data())
        *lines, self._rest = (self._rest + data).split(b"\n")
        for line in lines:
            self._take(json.loads(line))

    def _take(self, told: Mapping[str, Any]) -> None:
        if "step" in told:
            self._step = str(told["step"])
            self.doing.emit(self._step)
        else:
            self.found.emit(told["found"])

    def _too_long(self) -> None:
        seconds = self._limit.interval() / 1000
        self._trouble = f"The search did not end within {seconds:g} s, at {self._step or 'its start'}."
        if self._process is not None:
            self._process.kill()

    def _failed(self, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart:
            self._trouble = "The search could not be started."
            self._due = []
            self._finished()

    def _finished(self, *_how: object) -> None:
        process = self._process
        if process is None:
            return
        self._hear()
        self._limit.stop()
        self._process = None
        process.deleteLater()
        if self._due:
            self._next()
        else:
            self.ended.emit(self._trouble)
