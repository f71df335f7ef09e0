"""The process that holds one VISA session, or lists VISA's resources: the one file that knows pyvisa.

A process of its own, since VISA's calls may block for seconds, or for good, in libraries that are not
ours, and since loading it takes longer than the rest of a start. `visa_link` starts it, and ends it
where it does not keep its times.

    python -m benchlog.instruments.link_visa          reads one JSON line, `Wanted`, then speaks frames
    python -m benchlog.instruments.link_visa --list   prints one JSON list of resource names

BENCHLOG_VISA chooses the library: `@py` (the usual: pyvisa-py), `@ivi` or a path for a vendor's.
"""

import contextlib
import json
import os
import queue
import select
import socket
import sys
import threading
import time
import warnings
from typing import Any

import pyvisa
from pyvisa.constants import StatusCode
from pyvisa.resources import MessageBasedResource

from benchlog.errors import Gone, LinkError, Refused, TimedOut
from benchlog.instruments.visa_frames import DATA, OPEN, READY, WRITE, Frames, pack, pack_failure

VARIABLE = "BENCHLOG_VISA"
PURE = "@py"

SLICE_MS = 50
"""One wait for the first byte of an answer; a message to be sent waits no longer."""
USB_SLICE_MS = 200
"""The same on USB, where every wait that ends without an answer is an abort on the bus."""
REST_MS = 1000
"""Longest wait for the rest of an answer that has begun, and for a message to be taken."""
CHUNK = 65536
END_SECONDS = 1.0
"""So long a session may take to close when nobody wants it any more."""

LAST_WORD_SECONDS = 0.02
"""What was answered just before the far end closed is still handed on."""

_WORDS = {
    StatusCode.error_resource_not_found: "no such instrument answers",
    StatusCode.error_resource_busy: "another program uses it",
    StatusCode.error_resource_locked: "another program has it locked",
    StatusCode.error_connection_lost: "the connection broke",
    StatusCode.error_library_not_found: "a library that it needs is not installed",
    StatusCode.error_invalid_resource_name: "VISA cannot read this address",
    StatusCode.error_interface_number_not_configured: "there is no such interface",
}


class Session:
    """One open resource. A message with a question mark is a question, and has one answer.

    An answer is only read while a question is open: many instruments complain of a read that they have
    nothing for. Its first byte is waited for in slices, in which nothing can be lost; where the rest
    fails to come, the answer counts as broken and nothing more of it is given.
    """

    def __init__(self, name: str, reply_end: bytes, open_ms: int) -> None:
        manager = pyvisa.ResourceManager(os.environ.get(VARIABLE) or PURE)
        resource = manager.open_resource(name, open_timeout=open_ms)
        if not isinstance(resource, MessageBasedResource):
            raise Refused(name, "is no instrument that takes messages", "name an INSTR resource")
        self._resource = resource
        self._reply_end = reply_end
        self._whole = name.upper().startswith("USB")
        # There every answer carries the number of its question, and a clear may meet a late one.
        self._numbered = _is_pure() and "::HISLIP" in name.upper()
        self._slice = USB_SLICE_MS if self._whole else SLICE_MS
        self.open = False
        """Whether an answer is due."""

    def write(self, message: bytes) -> None:
        """Send one message; before a question, an answer still due is given up by a device clear.

        A command goes out at once, whatever is due: it may be the one that switches off.
        """
        resource = self._resource
        resource.timeout = REST_MS
        question = b"?" in message
        if question and self.open and not self._numbered:
            with contextlib.suppress(pyvisa.VisaIOError):  # some have no clear; the identity tells
                resource.clear()
            self.open = False
        resource.write_raw(message)
        self.open = self.open or question
        resource.timeout = self._slice

    def read(self) -> bytes:
        """What came of the answer within a slice; ends with the line end when it is whole."""
        try:
            data, more = self._read(CHUNK if self._whole else 1)
        except pyvisa.VisaIOError as error:
            if error.error_code == StatusCode.error_timeout:
                return b""
            raise
        if not more:
            self.open = False
        if not data or not more:
            return self._ended(data)
        return data + self._read_rest()

    def _read_rest(self) -> bytes:
        self._resource.timeout = REST_MS
        got = b""
        try:
            more = True
            while more and len(got) < CHUNK:
                data, more = self._read(CHUNK)
                got += data
        except pyvisa.VisaIOError as error:
            if error.error_code != StatusCode.error_timeout:
                raise
            # Some of it is lost: what still comes would look like an answer of its own.
            raise Gone("", "stopped in the middle of an answer", "it will be opened anew") from None
        finally:
            self._resource.timeout = self._slice
        if more:
            return got
        self.open = False
        return self._ended(got)

    def _read(self, count: int) -> tuple[bytes, bool]:
        """At most `count` bytes, and whether more of this answer follows."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            data, status = self._resource.visalib.read(self._resource.session, count)
        return bytes(data), status == StatusCode.success_max_count_read

    def _ended(self, data: bytes) -> bytes:
        """END closes the line, with or without a line end of the instrument's own."""
        return data.rstrip(b"\r\n") + self._reply_end

    def sockets(self) -> list[socket.socket]:
        """What pyvisa-py talks through on a network; nothing of another library's, or on another wire."""
        sessions = vars(self._resource.visalib).get("sessions", {})
        interface = vars(sessions.get(self._resource.session, object)).get("interface")
        known = vars(interface) if interface is not None else {}
        return [one for name in ("sock", "_sync") if isinstance(one := known.get(name), socket.socket)]

    def close(self) -> None:
        """Let go of it."""
        self._resource.close()


class Wire:
    """Our end of the socket that leads back; any thread may send a frame."""

    def __init__(self, connected: socket.socket) -> None:
        self.socket = connected
        self._sending = threading.Lock()

    def send(self, frame: bytes) -> None:
        """Send a whole frame."""
        with self._sending:
            self.socket.sendall(frame)

    def fail(self, error: LinkError) -> None:
        """Say why it ends, and end it."""
        with contextlib.suppress(OSError):
            self.send(pack_failure(error))
            self.socket.shutdown(socket.SHUT_RDWR)


def serve(wire: Wire, session: Session) -> None:
    """Carry messages until the other end of `wire` closes; whatever VISA raises where the session fails."""
    due: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(wire, due), daemon=True).start()
    for one in session.sockets():
        threading.Thread(target=_watch, args=(one, wire), daemon=True).start()
    while True:
        try:
            message = due.get(block=not session.open)
        except queue.Empty:
            if data := session.read():
                wire.send(pack(DATA, data))
            continue
        if message is None:
            return
        session.write(message)


def _watch(connected: socket.socket, wire: Wire) -> None:
    """Notice a far end that closes at once, also at rest: pyvisa-py reads on for a second, at a core's full speed."""
    hang_up = getattr(select, "POLLRDHUP", 0)
    if not hang_up:
        return  # only Linux tells without reading; elsewhere it shows at the next question
    poll = select.poll()
    poll.register(connected, hang_up)
    poll.poll()
    time.sleep(LAST_WORD_SECONDS)
    wire.fail(Gone("", "the far end closed the connection", "it will be opened anew"))


def _listen(wire: Wire, due: "queue.SimpleQueue[bytes | None]") -> None:
    """Take messages; when nobody wants the session any more, give it a moment to close."""
    frames = Frames()
    with contextlib.suppress(OSError):
        while data := wire.socket.recv(CHUNK):
            for kind, body in frames.feed(data):
                if kind == WRITE:
                    due.put(body)
    due.put(None)
    time.sleep(END_SECONDS)
    os._exit(0)


def as_link_error(error: Exception, opening: bool) -> LinkError:
    """A failure of VISA's or of what lies under it, as one of ours."""
    if isinstance(error, LinkError):
        return error
    code = getattr(error, "error_code", None)
    if code == StatusCode.error_timeout:
        return TimedOut(
            "", "does not take what is sent, or did not answer in time", "check that it is switched on"
        )
    reason = _WORDS.get(code) if code is not None else None
    reason = reason or (str(error).splitlines() or [""])[0].split(". ")[0].rstrip(".") or type(error).__name__
    if not opening:
        return Gone("", f"the VISA session broke ({reason})", "it will be opened anew")
    fix = "check the address, that it is switched on, and that the VISA library for its wire is installed"
    return Refused("", f"cannot be opened through VISA ({reason})", fix)


def _is_pure() -> bool:
    return (os.environ.get(VARIABLE) or PURE).endswith(PURE)


def hold(wanted: dict[str, Any]) -> None:
    """Open what is wanted and carry its messages, failures told as the last frame."""
    with socket.create_connection(("127.0.0.1", wanted["port"])) as connected:
        connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        connected.sendall(bytes.fromhex(wanted["token"]) + pack(READY))
        wire = Wire(connected)
        opening = True
        try:
            session = Session(wanted["name"], wanted["reply_end"].encode(), wanted["open_ms"])
            opening = False
            wire.send(pack(OPEN))
            serve(wire, session)
            session.close()
        except Exception as error:  # noqa: BLE001 - pyvisa-py raises bare exceptions; all are told
            wire.fail(as_link_error(error, opening))


def names() -> list[str]:
    """The resources VISA finds by itself; serial ports and plain sockets are found otherwise."""
    manager = pyvisa.ResourceManager(os.environ.get(VARIABLE) or PURE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = manager.list_resources("?*::INSTR")
    return [name for name in found if not name.upper().startswith("ASRL")]


def main() -> None:
    """Hold one session, or list what there is."""
    if sys.argv[1:] == ["--list"]:
        try:
            print(json.dumps(names()))  # noqa: T201
        except Exception as error:  # noqa: BLE001 - as above
            sys.exit(as_link_error(error, opening=True).problem)
        return
    hold(json.loads(sys.stdin.readline()))


if __name__ == "__main__":
    main()
