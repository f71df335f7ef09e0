"""The panel's line to the simulated bench: one socket in a thread of its own, requests out, what is seen in."""

import queue
import select
import socket
import threading
import time
from contextlib import suppress
from typing import Any

import msgspec
from PySide6.QtCore import QObject, Signal

from benchlog.errors import BadInput

LOOK_EVERY = 0.2
"""Seconds between two looks at the bench."""
CONNECT_SECONDS = 5.0


class Names(msgspec.Struct, frozen=True):
    """What there is on the bench to lay a hand on, and what can play."""

    example: str
    parts: tuple[str, ...]
    faults: tuple[str, ...]
    fault: str
    controls: tuple[str, ...] = ()
    lamps: tuple[float, ...] = ()
    meters: tuple[str, ...] = ()
    acts: dict[str, str] = {}


class Seen(msgspec.Struct, frozen=True):
    """What an onlooker sees and hears; what this bench does not have stays as it is here.

    Attributes:
        live: whether anything is fed to the unit.
        probing, turned_round: the part the probes are on, and whether its leads are the other way round.
        alarms, since_alarm: how often the alarm was heard, and seconds since the last time.
        relay, clicks: whether the mains relay is in, and its moves.
        outputs, volts, amps: of the bench supply.
        dial, switch: of the variable transformer, as a fraction; of the wall.
        lamp_watts, lamp, bright: the lamp in series, how it looks, its power as a fraction.
        speaker, speaker_clicks: the loudspeaker relay of the unit.
        presets: where each trimmer stands.
    """

    live: bool = False
    probing: str = ""
    turned_round: bool = False
    alarms: int = 0
    since_alarm: float | None = None
    relay: bool | None = None
    clicks: int = 0
    outputs: tuple[bool, ...] = ()
    volts: tuple[float, ...] = ()
    amps: tuple[float, ...] = ()
    dial: float = 0.0
    switch: bool = False
    lamp_watts: float = 0.0
    lamp: str = "none"
    bright: float = 0.0
    speaker: bool = False
    speaker_clicks: int = 0
    presets: dict[str, float] = {}


class _Answer(msgspec.Struct):
    ok: bool
    id: int = 0
    why: str = ""


def parted(address: str) -> tuple[str, int]:
    """Host and port of `tcp://HOST:PORT`; BadInput for anything else."""
    host, _, port = address.removeprefix("tcp://").rpartition(":")
    if not address.startswith("tcp://") or not host or not port.isdecimal() or int(port) > 65535:
        raise BadInput(address, "is no control port", "give what the simulated bench prints, tcp://HOST:PORT")
    return host, int(port)


class PanelLine(QObject):
    """Talks to the control port of a simulated bench; all signals come on the GUI thread.

    `named` once with what there is, `seen` some five times a second, `done` with what was asked and came
    true, `refused` with what was asked and the sentence why not, `ended` when the bench is gone.
    """

    named = Signal(object)
    seen = Signal(object)
    done = Signal(dict)
    refused = Signal(dict, str)
    ended = Signal()

    def __init__(self, address: str) -> None:
        super().__init__()
        self._to = parted(address)
        self._asked: queue.SimpleQueue[dict[str, Any] | None] = queue.SimpleQueue()
        self._open: dict[int, dict[str, Any]] = {}
        self._count = 0
        self._due = 0.0
        self._woken, self._wake = socket.socketpair()
        self._wake.setblocking(False)
        self._thread = threading.Thread(target=self._live, name="panel line", daemon=True)

    def start(self) -> None:
        """Connect, and look from now on."""
        self._thread.start()

    def ask(self, do: str, **about: Any) -> None:
        """Ask for something to be done; never waits."""
        self._asked.put({"do": do, **about})
        self._rouse()

    def close(self) -> None:
        """Hang up."""
        self._asked.put(None)
        self._rouse()
        if self._thread.is_alive():
            self._thread.join(CONNECT_SECONDS + 1.0)
        self._woken.close()
        self._wake.close()

    # --- in the thread ---------------------------------------------------------------------------

    def _rouse(self) -> None:
        # A full wake-up line wakes as well.
        with suppress(BlockingIOError, OSError):
            self._wake.send(b"!")

    def _live(self) -> None:
        try:
            with socket.create_connection(self._to, timeout=CONNECT_SECONDS) as wire:
                hung_up = self._talk(wire)
        except OSError:
            hung_up = False
        if not hung_up:
            self.ended.emit()

    def _talk(self, wire: socket.socket) -> bool:
        """Ask and hear until this side hangs up, which gives true, or the far side does."""
        self._say(wire, {"do": "names"})
        buffer = b""
        while True:
            if time.monotonic() >= self._due:
                self._due = time.monotonic() + LOOK_EVERY
                self._say(wire, {"do": "state"})
            wait = max(0.0, self._due - time.monotonic())
            ready, _, _ = select.select([wire, self._woken], [], [], wait)
            if self._woken in ready:
                self._woken.recv(4096)
                if not self._pass_on(wire):
                    return True
            if wire in ready:
                data = wire.recv(65536)
                if not data:
                    return False
                *lines, buffer = (buffer + data).split(b"\n")
                for line in lines:
                    self._hear(line)

    def _pass_on(self, wire: socket.socket) -> bool:
        """Send what was asked for meanwhile; false where that was to hang up."""
        while not self._asked.empty():
            request = self._asked.get()
            if request is None:
                return False
            self._say(wire, request)
        return True

    def _say(self, wire: socket.socket, request: dict[str, Any]) -> None:
        self._count += 1
        self._open[self._count] = request
        wire.sendall(msgspec.json.encode({**request, "id": self._count}) + b"\n")

    def _hear(self, line: bytes) -> None:
        answer = msgspec.json.decode(line, type=_Answer)
        request = self._open.pop(answer.id, {})
        if not answer.ok:
            self.refused.emit(request, answer.why)
        elif request.get("do") == "names":
            self.named.emit(msgspec.json.decode(line, type=Names))
        elif request.get("do") == "state":
            self.seen.emit(msgspec.json.decode(line, type=Seen))
        else:
            # What it brought about is looked at without waiting for the next look.
            self._due = 0.0
            self.done.emit(request)
