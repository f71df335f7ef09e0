"""A network supply over loopback for tests of the cut: says what it heard, obeys or does not."""

import socket
import threading
from types import TracebackType
from typing import Self


class FarSupply:
    """Switches off on `OUTP OFF`, answers `OUTP?` with 1 or 0.

    `deaf` off lines are heard without effect; `mute` questions get no answer; `serves` connections
    are answered at a time, further ones wait in the backlog; `hangs_up` closes after that many lines.
    """

    def __init__(
        self, *, deaf: int = 0, mute: int = 0, serves: int = 8, hangs_up: int = 0, ending: bytes = b"\n"
    ) -> None:
        self.on = True
        self.lies = False
        """Whether its terminals stay live though it says that it is off."""
        self.heard: list[str] = []
        self.connections = 0
        self._deaf, self._mute, self._hangs_up, self._ending = deaf, mute, hangs_up, ending
        self._places = threading.Semaphore(serves)
        self._stop = threading.Event()
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(0.05)
        self.port: int = self._server.getsockname()[1]
        self._threads = [threading.Thread(target=self._accept)]
        self._threads[0].start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        for thread in self._threads:
            thread.join()
        self._server.close()

    @property
    def line(self) -> tuple[str, int, str, str, str, list[str]]:
        """Its line of a recipe."""
        return ("127.0.0.1", self.port, "OUTP OFF", "OUTP?\n", "0", ["MEAS:VOLT?"])

    def _accept(self) -> None:
        while not self._stop.is_set():
            try:
                link, _ = self._server.accept()
            except TimeoutError:
                continue
            self.connections += 1
            thread = threading.Thread(target=self._serve, args=(link,))
            thread.start()
            self._threads.append(thread)

    def _serve(self, link: socket.socket) -> None:
        with link:
            link.settimeout(0.05)
            while not self._places.acquire(timeout=0.05):
                if self._stop.is_set():
                    return
            try:
                self._talk(link)
            except ConnectionError:
                pass
            finally:
                self._places.release()

    def _talk(self, link: socket.socket) -> None:
        rest = b""
        heard = 0
        while not self._stop.is_set():
            try:
                data = link.recv(4096)
            except TimeoutError:
                continue
            if not data:
                return
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                heard += 1
                self._obey(link, line.decode())
                if heard == self._hangs_up:
                    self._hangs_up = 0
                    return

    def _obey(self, link: socket.socket, line: str) -> None:
        self.heard.append(line)
        if line == "OUTP OFF":
            if self._deaf:
                self._deaf -= 1
            else:
                self.on = False
        elif line == "OUTP?":
            if self._mute:
                self._mute -= 1
            else:
                link.sendall((b"1" if self.on else b"0") + self._ending)
        elif line == "MEAS:VOLT?":
            link.sendall((b"+1.2E+01" if self.on or self.lies else b"+0.0E+00") + self._ending)
