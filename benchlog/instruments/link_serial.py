"""The wire of a serial instrument, through pyserial in chunks: real ports, `socket://`, `rfc2217://`.

The one file that knows pyserial. It opens and sets up the port; where the port has a descriptor
that can be waited on, bytes are read from that. Its `readline` and `read_until` are never used
(both read byte by byte and give half lines on a timeout), its `read` only where there is no
descriptor (it loses what came just before a hang-up), and its timeout is never changed on an open
port (that sets the whole port up again).
"""

import contextlib
import errno
import io
import os
import select
import socket
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import serial
from serial.tools import list_ports

from benchlog.errors import Gone, Refused, TimedOut
from benchlog.instruments.address import SerialAddress, UsbSerialAddress
from benchlog.instruments.link_tcp import keep_alive
from benchlog.instruments.profile import Serial
from benchlog.instruments.waiter import Waiter, drain

if sys.platform != "win32":
    import fcntl
    import termios

_IN_USE = (errno.EAGAIN, errno.EBUSY)
_BROKEN = (serial.SerialException, OSError, ValueError, TypeError, AttributeError)
"""What pyserial raises, beside its own, where a port is gone or was closed."""

CHUNK = 4096
SLICE = 0.02
"""Longest read of a port that cannot be waited on together with a wake, in s."""
OPEN_WAIT = 5.0
"""Longest wait until a port of this computer is open, in s; some drivers take very long, or never end."""
WRITE_WAIT = 0.5
"""Longest wait until a port took what is sent, in s."""

_PARITY = {
    "none": serial.PARITY_NONE,
    "even": serial.PARITY_EVEN,
    "odd": serial.PARITY_ODD,
    "mark": serial.PARITY_MARK,
    "space": serial.PARITY_SPACE,
}


@dataclass(frozen=True, slots=True)
class Port:
    """A serial port of this computer; the ids of its adapter are None where it has none."""

    device: str
    about: str = ""
    vendor: int | None = None
    product: int | None = None
    serial: str = ""

    @property
    def address(self) -> str:
        """How a bench file names it: by its adapter where that can be told from others, else by its name."""
        if self.vendor is None or self.product is None or not self.serial or ":" in self.serial:
            return self.device
        return f"usb:{self.vendor:04X}:{self.product:04X}:{self.serial}"


Lister = Callable[[], list[Port]]
"""What tells which serial ports there are now."""


def ports() -> list[Port]:
    """The serial ports of this computer, as they are now."""
    return [
        Port(
            str(port.device),
            "" if port.description in (None, "n/a", port.name) else str(port.description),
            port.vid,
            port.pid,
            port.serial_number or "",
        )
        for port in list_ports.comports()
    ]


def plugged_in(address: SerialAddress | UsbSerialAddress, lister: Lister = ports) -> bool:
    """Whether the port of that address is there; a port on a network counts as there."""
    if isinstance(address, UsbSerialAddress):
        return _device_of(address, lister) is not None
    if address.device.startswith("/"):
        return Path(address.device).exists()
    if "://" in address.device:
        return True
    return any(port.device.upper() == address.device.upper() for port in lister())


class SerialLink:
    """One open port. `send` and `wake` may be called from any thread, the rest from the owner's."""

    def __init__(self, port: serial.SerialBase, place: str) -> None:
        self._port = port
        self._place = place
        self._sending = threading.Lock()
        self._woken = threading.Event()
        self._descriptor = _descriptor(port)
        self._waiter = None if self._descriptor is None else Waiter(self._descriptor)

    @classmethod
    def open(
        cls,
        address: SerialAddress | UsbSerialAddress,
        settings: Serial,
        place: str,
        lister: Lister = ports,
        deadline: float = OPEN_WAIT,
    ) -> "SerialLink":
        """Open a port for us alone, its line states set before; Refused or TimedOut in one sentence.

        One on a network opens within `deadline` real seconds, one of this computer within its own time.
        """
        device = address.device if isinstance(address, SerialAddress) else _find(address, place, lister)
        port: serial.SerialBase | None = None
        try:
            port = serial.serial_for_url(
                device,
                do_not_open=True,
                baudrate=settings.baud,
                bytesize=settings.bits,
                parity=_PARITY[settings.parity],
                stopbits=settings.stop,
                timeout=SLICE,
                # Over RFC 2217 pyserial knows none; there the socket's own time ends a write.
                write_timeout=None if device.startswith("rfc2217://") else WRITE_WAIT,
                exclusive=True,
            )
            port.dtr = settings.dtr
            port.rts = settings.rts
            _open_within(port, device, deadline if "://" in device else OPEN_WAIT, place)
            _keep_alive(port)
        except (serial.SerialException, OSError, ValueError, TypeError) as error:
            if port is not None:
                _let_go(port)
            raise _refused(device, error, place) from None
        return cls(port, place)

    def send(self, data: bytes) -> None:
        """Send a whole line; Gone where the port does not take it."""
        with self._sending:
            try:
                self._write(data)
            except (serial.SerialException, OSError, TypeError, AttributeError) as error:
                raise self._gone(error) from None

    def receive(self, wait: float) -> bytes:
        """What came within `wait` real seconds; empty where nothing came or another thread woke us."""
        try:
            if self._waiter is None or self._descriptor is None:
                return self._receive_in_slices(wait)
            if not self._waiter.readable(wait):
                return b""
            data = os.read(self._descriptor, CHUNK)
        except BlockingIOError:
            return b""
        except (serial.SerialException, OSError, TypeError, AttributeError) as error:
            raise self._gone(error) from None
        if not data:
            raise Gone(self._place, "the port was unplugged or closed at the far end", "plug it in again")
        return data

    def drain(self, quiet: float) -> bytes:
        """Throw away what comes until `quiet` s of silence; give its end, for the log."""
        return drain(self.receive, quiet)

    def set_line(self, line: str, high: bool) -> None:
        """Raise or lower the line `rts` or `dtr`; Gone where the port does not take it.

        It leaves at once. A port on a network then waits for its answer, 50 ms and at most 3 s.
        """
        with self._sending:
            try:
                self._check()
                setattr(self._port, line, high)
            except _BROKEN as error:
                raise self._gone(error) from None

    def lines(self) -> frozenset[str] | None:
        """Which of `cts` and `dsr` are high; None where a port on a network has not told yet. Gone where it is dead."""
        try:
            self._check()
            told = "_modemstate" not in vars(self._port) or vars(self._port)["_modemstate"] is not None
            return frozenset(line for line in ("cts", "dsr") if getattr(self._port, line)) if told else None
        except _BROKEN as error:
            raise self._gone(error) from None

    def fall_on_close(self, *, fall: bool) -> None:
        """Whether the system lowers RTS and DTR when the port closes, however that comes about; Gone where it is dead.

        Only a port of this computer can be told, and only where the system has such a setting.
        """
        if sys.platform == "win32" or not isinstance(self._port, serial.Serial):
            return
        try:
            settings = termios.tcgetattr(self._port.fileno())
            settings[2] = settings[2] | termios.HUPCL if fall else settings[2] & ~termios.HUPCL
            termios.tcsetattr(self._port.fileno(), termios.TCSANOW, settings)
        except (*_BROKEN, termios.error) as error:
            raise self._gone(error) from None

    def wake(self) -> None:
        """Make a blocked `receive`, or the next one, return at once (within a slice on some ports)."""
        self._woken.set()
        if self._waiter is not None:
            self._waiter.wake()

    def close(self) -> None:
        """Close the port; does nothing the second time."""
        if self._waiter is not None:
            self._waiter.close()
        with self._sending:
            _let_go(self._port)

    def _write(self, data: bytes) -> None:
        """Hand it to the port; pyserial's own writes call one that was taken whole a failure where time ran out."""
        port = self._port
        if sys.platform == "win32" or not isinstance(port, serial.Serial) or not port.is_open:
            port.write(data)
            return
        descriptor = port.fileno()
        until = time.monotonic() + WRITE_WAIT
        while data:
            with contextlib.suppress(BlockingIOError):
                data = data[os.write(descriptor, data) :]
            if data and not _writable(descriptor, until - time.monotonic()):
                raise serial.SerialTimeoutException("it does not take what is sent")

    def _receive_in_slices(self, wait: float) -> bytes:
        port = cast(serial.Serial, self._port)
        until = time.monotonic() + wait
        while True:
            waiting = port.in_waiting
            if waiting or time.monotonic() < until:
                data: bytes = port.read(min(waiting, CHUNK) or 1)
                if data:
                    return data + port.read(min(port.in_waiting, CHUNK))
            if wait > 0 and self._woken.is_set():
                self._woken.clear()
                return b""
            if time.monotonic() >= until:
                return b""

    def _check(self) -> None:
        """Raise where it is closed, which pyserial would take for later, or where a serial server is gone."""
        if not self._port.is_open:
            raise serial.PortNotOpenError
        reader = vars(self._port).get("_thread")
        if reader is not None and not reader.is_alive():
            raise serial.SerialException("its far end is gone")

    def _gone(self, error: Exception) -> Gone:
        return Gone(self._place, f"the port broke ({_reason(error)})", "plug it in again")


def _descriptor(port: serial.SerialBase) -> int | None:
    """The descriptor to wait on, or None where reads must be cut into slices."""
    if sys.platform == "win32":
        return None
    try:
        return int(port.fileno())
    except (io.UnsupportedOperation, AttributeError):
        return None


def _writable(descriptor: int, wait: float) -> bool:
    """Whether there is room for more within so many s."""
    poll = select.poll()
    poll.register(descriptor, select.POLLOUT)
    return bool(poll.poll(max(wait, 0.0) * 1000.0))


def _claim(port: serial.SerialBase) -> None:
    """Keep other programs out: pyserial's lock is a polite one, this one holds for all but root."""
    if sys.platform != "win32" and isinstance(port, serial.Serial):
        fcntl.ioctl(port.fileno(), termios.TIOCEXCL)


def _keep_alive(port: serial.SerialBase) -> None:
    """Have the system notice a serial server that vanished, where nothing is ever sent to it."""
    inner = vars(port).get("_socket")
    if isinstance(inner, socket.socket):
        keep_alive(inner)


def _unclaim(port: serial.SerialBase) -> None:
    """Let other programs in again: the claim outlives our descriptor where anybody else holds the line open."""
    if sys.platform != "win32" and isinstance(port, serial.Serial) and port.is_open:
        fcntl.ioctl(port.fileno(), termios.TIOCNXCL)


def _open_within(port: serial.SerialBase, device: str, seconds: float, place: str) -> None:
    """Open and claim a port in a thread, since that cannot be bounded; one that opens too late is closed."""
    failures: list[Exception] = []
    done, given_up, deciding = threading.Event(), threading.Event(), threading.Lock()

    def work() -> None:
        try:
            cast(serial.Serial, port).open()
            _claim(port)
        except Exception as error:  # noqa: BLE001 - raised again in the thread that waits
            failures.append(error)
        with deciding:
            done.set()
        if given_up.is_set():
            _let_go(port)

    threading.Thread(target=work, name=f"opening {device}", daemon=True).start()
    done.wait(seconds)
    with deciding:
        if not done.is_set():
            given_up.set()
    if given_up.is_set():
        raise TimedOut(place, f"{device} did not open within {seconds:g} s", "check what it hangs on")
    if failures:
        raise failures[0]


def _let_go(port: serial.SerialBase) -> None:
    """Close a port in whatever state it is."""
    # Over RFC 2217 pyserial forgets to close a socket whose far end is gone.
    inner = vars(port).get("_socket")
    with contextlib.suppress(serial.SerialException, OSError, TypeError):  # unplugged
        _unclaim(port)
    with contextlib.suppress(serial.SerialException, OSError, TypeError):
        port.close()
    if inner is not None:
        inner.close()


def _device_of(address: UsbSerialAddress, lister: Lister) -> str | None:
    """The port at which this adapter is now, None where it is not plugged in."""
    for port in lister():
        if (port.vendor, port.product, port.serial) == (address.vendor, address.product, address.serial):
            return port.device
    return None


def _find(address: UsbSerialAddress, place: str, lister: Lister) -> str:
    device = _device_of(address, lister)
    if device is None:
        raise Refused(place, f"no adapter {address.text} is plugged in", "plug it in, or check its numbers")
    return device


def _reason(error: Exception) -> str:
    """What the system says, without pyserial's own sentence around it."""
    number = getattr(error, "errno", None)
    return os.strerror(number) if number else (str(error).splitlines() or ["no reason given"])[0]


def _refused(device: str, error: Exception, place: str) -> Refused:
    """Why a port does not open, and what to do about it."""
    number = getattr(error, "errno", None)
    if number in _IN_USE or (sys.platform == "win32" and "PermissionError" in str(error)):
        problem = f"{device} is in use by another program, or by another instrument of this bench"
        return Refused(place, problem, "close the other program that uses it")
    problem = f"{device} cannot be opened ({_reason(error)})"
    if number == errno.EACCES:
        fix = "give yourself the right to use serial ports (on Debian: group dialout), then log in again"
        return Refused(place, problem, fix)
    return Refused(place, problem, "check the name, and that it is plugged in")
