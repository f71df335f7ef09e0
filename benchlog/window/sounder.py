"""`python -m benchlog.window.sounder tones|speech`: makes tones or speech, as lines on standard input ask for.

A process of its own, one for each, since what a desktop has for sound loads slowly, waits for servers, prints what
it likes, hangs and dies: none of that may reach the window, whose end is a cut, nor the other of the two. A line
comes in as `MILLISECONDS play NAME`, `MILLISECONDS say TEXT`, `MILLISECONDS home DISTANCE` or `MILLISECONDS stop`,
stamped with the monotonic clock; a line goes out whenever it is new that it can be heard (`yes`), cannot (`no WHY`)
or speaks (`speaking`).
It ends when standard input does, and at once where there is nothing it could ever sound with.
"""

import faulthandler
import logging
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol

from PySide6.QtCore import (
    QCoreApplication,
    QLocale,
    QObject,
    Qt,
    QTimer,
    QtMsgType,
    QUrl,
    Signal,
    qInstallMessageHandler,
)

from benchlog import logs, resources
from benchlog.window.homing_tone import AHEAD, RATE, HomingPlayer

# Each may be missing alone: the files are there, but not the system's libraries they load.
try:
    from PySide6.QtMultimedia import QAudioFormat, QAudioSink, QMediaDevices, QSoundEffect
except ImportError as missing:
    NO_MULTIMEDIA = str(missing).partition(":")[0]
else:
    NO_MULTIMEDIA = ""
try:
    from PySide6.QtTextToSpeech import QTextToSpeech
except ImportError as missing:
    NO_SPEECH = str(missing).partition(":")[0]
else:
    NO_SPEECH = ""

Tell = Callable[[str], None]
LOOK_EVERY = 250
"""Milliseconds between two looks at devices and engine.

No signal of theirs is heard: they send some from threads of their own, where Python waits for the thread that is
waiting for them, and neither ever goes on (seen with speech-dispatcher).
"""
HUNG = 20.0
"""Seconds without a turn after which this process ends itself, whatever it waits for."""
STALE = 1000
"""Milliseconds after which what was asked for is left out: a late tone would speak of another part."""
BRISK = 0.3
"""How much faster than its usual an engine speaks, from -1 to 1."""
_PRETENDS = "mock"
"""Qt's engine for tests; it makes no sound."""


class Device(Protocol):
    """What makes sound: looked after many times a second, asked for one thing at a time."""

    def look(self) -> None:
        """See whether it can be heard, and tell where that is new."""

    def obey(self, what: str, text: str) -> None:
        """Do what is asked for; anything unknown is nothing."""


class Loudspeaker:
    """Plays tones by name, through whatever the system takes for its loudspeaker now."""

    def __init__(
        self,
        tell: Tell,
        devices: Any,
        make: Callable[[], Any],
        folder: Path,
        homing: HomingPlayer | None = None,
    ) -> None:
        """Find the tones.

        Args:
            tell: gets a line whenever it is new whether tones can be heard.
            devices: QMediaDevices, or what stands in for it.
            make: makes a QSoundEffect, or what stands in for one.
            folder: where the tones lie.
            homing: what sounds while a trimmer is turned; None where nothing does.
        """
        self._tell, self._devices, self._make = tell, devices, make
        self._files = {path.stem.removeprefix("tone-"): path for path in sorted(folder.glob("tone-*.wav"))}
        self._effects: dict[str, Any] = {}
        self._through: Any = None
        self._told: bool | None = None
        self._homing = homing

    def look(self) -> None:
        """See what there is to play through; tones are loaded once there is something."""
        there = bool(self._devices.audioOutputs())
        if there and self._devices.defaultAudioOutput() != self._through:
            self._through = self._devices.defaultAudioOutput()
            for name, path in self._files.items():
                if name not in self._effects:
                    self._effects[name] = self._make()
                    self._effects[name].setSource(QUrl.fromLocalFile(str(path)))
                self._effects[name].setAudioDevice(self._through)
        if there is not self._told:
            self._told = there
            self._tell("yes" if there else "no no loudspeaker or headphones were found")

    def obey(self, what: str, text: str) -> None:
        """Play a tone in the place of one that may still sound; the homing tone goes on beneath it."""
        if what == "home" and self._homing is not None:
            self._homing.home(text)
        if what == "stop" and self._homing is not None:
            self._homing.stop()
        if what == "play" and text in self._effects:
            for effect in self._effects.values():
                if effect.isPlaying():
                    effect.stop()
            self._effects[text].play()


class Mouth:
    """Speaks English through the first engine that works."""

    def __init__(self, tell: Tell, names: Sequence[str], make: Callable[[str], Any]) -> None:
        """Start the engines until one works.

        Args:
            tell: gets a line whenever it is new whether speech can be heard, and when it starts and ends.
            names: of the engines, best first.
            make: makes a QTextToSpeech of a name, or what stands in for one.
        """
        self._tell = tell
        self._told = ""
        self._ready = False
        self._engines: list[Any] = []
        for name in names:
            self._engines.append(make(name))
            if not _failed(self._engines[-1]):
                break

    def look(self) -> None:
        """See how the engine stands: one may need a while to start, and fail at any time."""
        engine = next((one for one in self._engines if not _failed(one)), None)
        if engine is None:
            told = (
                " ".join(self._engines[0].errorString().split()) if self._engines else "no voice is installed"
            )
            self._tell_new(f"no {told or 'the voice failed'}")
            return
        if not self._ready:
            self._ready = True
            self._engines = [engine]
            _prepare(engine)
        self._tell_new("speaking" if engine.state().name in {"Speaking", "Synthesizing"} else "yes")

    def obey(self, what: str, text: str) -> None:
        """Say a text in the place of what may still be said, or be quiet at once."""
        if not self._ready:
            return
        if what in {"say", "stop"}:
            self._engines[0].stop()
        if what == "say":
            self._engines[0].say(text)

    def _tell_new(self, line: str) -> None:
        if line != self._told:
            self._told = line
            self._tell(line)


def _failed(engine: Any) -> bool:
    return bool(engine.state().name == "Error")


def _prepare(engine: Any) -> None:
    """Set pace and language: what is said is English, whatever the system speaks."""
    engine.setRate(BRISK)
    english = QLocale.Language.English
    if engine.locale().language() != english:
        spoken = [one for one in engine.availableLocales() if one.language() == english]
        if spoken:
            engine.setLocale(spoken[0])


def loudspeaker(tell: Tell) -> Device | None:
    """The system's loudspeaker, or None where nothing can ever be heard, which is told."""
    if NO_MULTIMEDIA:
        tell(f"no a library of the system is missing ({NO_MULTIMEDIA})")
        return None
    homing = HomingPlayer(_homing_sink, time.monotonic)
    return Loudspeaker(tell, QMediaDevices, QSoundEffect, resources.path("sounds"), homing)


def _homing_sink() -> tuple[Any, Any] | None:
    """A sink for the homing tone through what the system takes for its loudspeaker now; None where it takes none."""
    form = QAudioFormat()
    form.setSampleRate(RATE)
    form.setChannelCount(1)
    form.setSampleFormat(QAudioFormat.SampleFormat.Int16)
    device = QMediaDevices.defaultAudioOutput()
    if device.isNull() or not device.isFormatSupported(form):
        return None
    sink = QAudioSink(device, form)
    sink.setBufferSize(round(2 * AHEAD * RATE))
    return sink, sink.start()


def mouth(tell: Tell, engine: str) -> Device | None:
    """The system's voice, or the one of `engine`; None where nothing can ever be heard, which is told."""
    if NO_SPEECH:
        tell(f"no a library of the system is missing ({NO_SPEECH})")
        return None
    names = [name for name in QTextToSpeech.availableEngines() if name != _PRETENDS]
    return Mouth(tell, [engine] if engine else names, QTextToSpeech)


class Lines(QObject):
    """Lines from a pipe, read in a thread, handed on in the thread this was made in; `ended` at their end."""

    ended = Signal()
    _came = Signal(str)

    def __init__(self, each: Callable[[str], None]) -> None:
        super().__init__()
        self._each = each
        self._came.connect(self._hand_on, Qt.ConnectionType.QueuedConnection)

    def start(self, reading: int) -> None:
        """Read on from there; what ends at once is heard too, where `ended` was connected before."""
        threading.Thread(target=self._read, args=(reading,), name="from window", daemon=True).start()

    def _hand_on(self, line: str) -> None:
        self._each(line)

    def _read(self, reading: int) -> None:
        rest = b""
        try:
            while data := os.read(reading, 4096):
                *whole, rest = (rest + data).split(b"\n")
                for line in whole:
                    self._came.emit(line.decode("utf-8", "replace"))
        except OSError:
            pass
        self.ended.emit()


def take(line: str, device: Device, now: int) -> None:
    """Have a line done, unless it came too late; `now` in milliseconds. To stop is never too late."""
    stamp, _, rest = line.partition(" ")
    what, _, text = rest.partition(" ")
    if what == "stop" or (stamp.isdecimal() and now - int(stamp) <= STALE):
        device.obey(what, text)


def serve(reading: int, make: Callable[[], Device | None]) -> None:
    """Sound as the lines ask for until the other end is gone."""
    app = QCoreApplication.instance() or QCoreApplication([])
    _watch()  # Starting an engine may hang already.
    device = make()
    if device is None:
        return
    lines = Lines(lambda line: take(line, device, time.monotonic_ns() // 1_000_000))
    lines.ended.connect(app.quit, Qt.ConnectionType.QueuedConnection)
    lines.start(reading)
    timer = QTimer()
    timer.timeout.connect(_watch)
    timer.timeout.connect(device.look)
    timer.start(LOOK_EVERY)
    device.look()
    app.exec()


def _watch() -> None:
    """Put off the end of a process that hangs; its clock needs neither Python nor this thread."""
    faulthandler.dump_traceback_later(HUNG, exit=True)


def _write(line: str) -> None:
    """Tell the window; one that is gone is seen at the other pipe."""
    try:
        os.write(1, f"{line}\n".encode())
    except OSError:
        pass


def _log_bug(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    """Leave a bug in the log; nobody reads this process's standard error."""
    logging.getLogger("benchlog").error("bug", exc_info=(kind, error, trace))


def _log_qt(_kind: QtMsgType, _context: object, text: str) -> None:
    logging.getLogger("benchlog").info("%s", text)


def main(argv: list[str]) -> int:
    """Be the sounder of the window at the other end of standard input."""
    what, *engine = argv or [""]
    if what not in {"tones", "speech"}:
        sys.stderr.write("usage: python -m benchlog.window.sounder tones|speech [ENGINE]\n")
        return 2
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    logs.start("sounder")
    sys.excepthook = _log_bug
    qInstallMessageHandler(_log_qt)
    serve(0, lambda: loudspeaker(_write) if what == "tones" else mouth(_write, "".join(engine)))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
