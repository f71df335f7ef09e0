"""The wire of an instrument behind VISA: a process of its own holds the session, a socket leads to it.

Whatever VISA does over there, a wait here ends by its own time and by `wake`, and a send does not wait.
"""

import contextlib
import json
import secrets
import socket
import subprocess
import sys
import time

from benchlog.errors import Gone, LinkError, Refused, TimedOut
from benchlog.instruments.link_tcp import TcpLink
from benchlog.instruments.visa_frames import DATA, FAILED, OPEN, READY, WRITE, Frames, failure, pack
from benchlog.instruments.waiter import drain

COMMAND = (sys.executable, "-m", "benchlog.instruments.link_visa")

START_SECONDS = 10.0
"""So long the process may take to start and to load VISA; a busy machine needs several seconds."""
CLOSE_SECONDS = 2.0
"""So long it may take to close its session; then it is killed."""
_TOKEN = 16


class VisaLink:
    """One session. `send` and `wake` may be called from any thread, the rest from the owner's."""

    def __init__(self, process: "subprocess.Popen[bytes]", wire: TcpLink, place: str) -> None:
        self._process = process
        self._wire = wire
        self._place = place
        self._frames = Frames()
        self._failed: LinkError | None = None

    @classmethod
    def open(cls, name: str, reply_end: str, place: str, deadline: float) -> "VisaLink":
        """Open a session within `deadline` real seconds after VISA was loaded; a LinkError in one sentence."""
        token = secrets.token_bytes(_TOKEN)
        with socket.create_server(("127.0.0.1", 0)) as server:
            wanted = {
                "name": name,
                "reply_end": reply_end,
                "open_ms": round(deadline * 1e3),
                "port": server.getsockname()[1],
                "token": token.hex(),
            }
            process = _start(wanted, place)
            try:
                connected = _meet(server, token, process, place)
            except BaseException:
                _end(process, 0.0)
                raise
        link = cls(process, TcpLink(connected, place), place)
        try:
            link._await(READY, START_SECONDS, f"VISA could not be loaded within {START_SECONDS:g} s")
            link._await(OPEN, deadline, f"{name} did not open within {deadline:g} s")
        except BaseException:
            link._wire.close()
            _end(process, 0.0)
            raise
        return link

    def send(self, data: bytes) -> None:
        """Send a whole line as one message; Gone where the session has ended."""
        try:
            self._wire.send(pack(WRITE, data))
        except Gone:
            raise self._gone() from None

    def receive(self, wait: float) -> bytes:
        """What came within `wait` real seconds; empty where nothing came or another thread woke us."""
        if self._failed is not None:
            raise self._failed
        try:
            raw = self._wire.receive(wait)
        except Gone:
            raise self._gone() from None
        return b"".join(self._take(raw, DATA)) if raw else b""

    def drain(self, quiet: float) -> bytes:
        """Throw away what comes until `quiet` s of silence; give its end, for the log."""
        return drain(self.receive, quiet)

    def wake(self) -> None:
        """Make a blocked `receive`, or the next one, return at once."""
        self._wire.wake()

    def close(self) -> None:
        """Close the session and end its process; does nothing the second time."""
        self._wire.close()
        _end(self._process, CLOSE_SECONDS)

    def _await(self, kind: bytes, seconds: float, problem: str) -> None:
        """Wait for the process to say so."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            if self._failed is not None:
                raise self._failed
            try:
                raw = self._wire.receive(left)
            except Gone:
                raise self._gone() from None
            if raw and self._take(raw, kind):
                return
        raise TimedOut(self._place, problem, "check that it is switched on, and its address")

    def _take(self, raw: bytes, wanted: bytes) -> list[bytes]:
        """The bodies of the frames of one kind; a failure is kept for the next call."""
        bodies = []
        for kind, body in self._frames.feed(raw):
            if kind == FAILED:
                self._failed = failure(body, self._place)
            elif kind == wanted:
                bodies.append(body)
        return bodies

    def _gone(self) -> LinkError:
        return self._failed or Gone(
            self._place, "the process that holds its VISA session ended", "it will be opened anew"
        )


def _start(wanted: dict[str, object], place: str) -> "subprocess.Popen[bytes]":
    """Start the process, out of reach of the terminal's Ctrl-C, and tell it what is wanted."""
    null = subprocess.DEVNULL
    try:
        if sys.platform == "win32":
            group = subprocess.CREATE_NEW_PROCESS_GROUP
            process = subprocess.Popen(
                COMMAND, stdin=subprocess.PIPE, stdout=null, stderr=null, creationflags=group
            )
        else:
            process = subprocess.Popen(
                COMMAND, stdin=subprocess.PIPE, stdout=null, stderr=null, process_group=0
            )
    except OSError as error:
        problem = f"the process for VISA could not be started ({error.strerror or error})"
        raise Refused(place, problem, "check the installation of benchlog") from None
    if process.stdin is not None:
        with contextlib.suppress(OSError), process.stdin as told:
            told.write(json.dumps(wanted).encode() + b"\n")
    return process


def _meet(
    server: socket.socket, token: bytes, process: "subprocess.Popen[bytes]", place: str
) -> socket.socket:
    """The connection that our own process made, known by its token."""
    until = time.monotonic() + START_SECONDS
    while (left := until - time.monotonic()) > 0 and process.poll() is None:
        server.settimeout(min(left, 0.2))
        try:
            connected, _ = server.accept()
        except TimeoutError:
            continue
        connected.settimeout(max(until - time.monotonic(), 0.001))
        if _says(connected, token):
            return connected
        connected.close()
    problem = "the process for VISA did not start"
    raise Refused(place, problem, "check that pyvisa and pyvisa-py are installed beside benchlog")


def _says(connected: socket.socket, token: bytes) -> bool:
    """Whether the first that comes is the token."""
    got = b""
    with contextlib.suppress(OSError):
        while len(got) < _TOKEN and (data := connected.recv(_TOKEN - len(got))):
            got += data
    return secrets.compare_digest(got, token)


def _end(process: "subprocess.Popen[bytes]", seconds: float) -> None:
    """Have it ended: by itself within `seconds`, else killed."""
    try:
        process.wait(seconds)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
