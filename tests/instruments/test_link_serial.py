"""The serial wire over a pty, `socket://` and `rfc2217://`: in chunks, woken at any time, unplugged at once."""

import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
import serial
import serial.rfc2217
from helpers.far_end import FarEnd, far_end, multimeter
from helpers.far_port import FarPort, far_port
from serial.tools import list_ports

from benchlog.errors import Gone, Refused, TimedOut
from benchlog.instruments import link_serial
from benchlog.instruments.address import SerialAddress, TcpAddress, UsbSerialAddress
from benchlog.instruments.link_serial import Port, SerialLink, plugged_in, ports
from benchlog.instruments.profile import Serial
from benchlog.instruments.reappearing import Reappearing

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pty")

HANG = 30.0
"""No wait of these tests takes so long unless something hangs."""


def open_at(device: str, settings: Serial | None = None) -> SerialLink:
    return SerialLink.open(SerialAddress(device, device), settings or Serial(), "handheld")


@pytest.fixture
def far() -> Iterator[FarPort]:
    with far_port() as made:
        yield made


@pytest.fixture(params=["waited on", "in slices"])
def link(
    far: FarPort, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> Iterator[SerialLink]:
    if request.param == "in slices":
        monkeypatch.setattr(link_serial, "_descriptor", lambda _: None)
    made = open_at(far.device)
    yield made
    made.close()


def received(link: SerialLink, size: int) -> bytes:
    got = b""
    end = time.monotonic() + HANG
    while len(got) < size and time.monotonic() < end:
        got += link.receive(1.0)
    return got


def test_bytes_both_ways(link: SerialLink, far: FarPort) -> None:
    link.send(b"READ?\n")
    assert far.hear() == b"READ?\n"
    far.say(b"+023.41 V AC\r\n")
    assert received(link, 14) == b"+023.41 V AC\r\n"


def test_silence_is_no_bytes(link: SerialLink) -> None:
    assert link.receive(0.0) == b""
    assert link.receive(0.03) == b""


def test_what_is_there_is_had_without_waiting(link: SerialLink, far: FarPort) -> None:
    far.say(b"x")
    got = b""
    while not got:
        got = link.receive(0.0)
    assert got == b"x"


def test_a_wake_ends_a_wait_under_way_or_the_next(link: SerialLink) -> None:
    begun = time.monotonic()
    threading.Timer(0.02, link.wake).start()
    assert link.receive(HANG) == b""
    link.wake()
    assert link.receive(0.0) == b""
    assert link.receive(HANG) == b""
    assert time.monotonic() - begun < HANG


def test_an_unplugged_adapter_is_gone_at_once_and_for_good(link: SerialLink, far: FarPort) -> None:
    far.unplug()
    begun = time.monotonic()
    for _ in range(3):
        with pytest.raises(Gone) as caught:
            link.receive(HANG)
    assert caught.value.place == "handheld"
    assert time.monotonic() - begun < HANG
    with pytest.raises(Gone):
        link.send(b"x")


def test_a_port_closed_under_a_reader_is_gone(link: SerialLink) -> None:
    link.close()
    link.close()
    link.wake()
    with pytest.raises(Gone):
        link.receive(0.1)
    with pytest.raises(Gone):
        link.send(b"x")


def test_a_port_that_takes_nothing_more_is_gone_in_its_time(link: SerialLink) -> None:
    with pytest.raises(Gone, match="it does not take what is sent"):
        link.send(b"x" * 1_000_000)


def test_a_line_that_was_taken_is_sent_however_long_that_took(
    link: SerialLink, far: FarPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(link_serial, "WRITE_WAIT", -1.0)
    link.send(b"READ?\n")
    assert far.hear() == b"READ?\n"


def test_a_drain_ends_with_silence(link: SerialLink, far: FarPort) -> None:
    far.say(b"old")
    assert link.drain(0.2) == b"old"


def test_line_states_are_set_before_the_port_is_opened(far: FarPort, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[bool, bool]] = []
    opened = serial.Serial.open

    def watch(port: serial.Serial) -> None:
        seen.append((port.dtr, port.rts))
        opened(port)

    monkeypatch.setattr(serial.Serial, "open", watch)
    open_at(far.device, Serial(dtr=False, rts=False, parity="even", stop=2.0)).close()
    assert seen == [(False, False)]


def test_a_port_belongs_to_one_program(far: FarPort) -> None:
    first = open_at(far.device)
    with pytest.raises(Refused) as caught:
        open_at(far.device)
    first.close()
    assert caught.value.problem.startswith(f"{far.device} is in use by another program")
    assert caught.value.fix == "close the other program that uses it"
    open_at(far.device).close()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux tells of a claim")
def test_the_claim_on_a_port_ends_with_its_close_although_the_far_end_holds_the_line(far: FarPort) -> None:
    link = open_at(far.device)
    assert far.claimed
    link.close()
    # Root alone could open it all the same.
    assert not far.claimed


def test_a_port_that_is_not_there() -> None:
    with pytest.raises(Refused) as caught:
        open_at("/dev/ttyNOBODY")
    assert caught.value.problem == "/dev/ttyNOBODY cannot be opened (No such file or directory)"


@pytest.mark.parametrize(
    ("code", "word"), [(13, "dialout"), (16, "close the other program"), (5, "plugged in")]
)
def test_each_refusal_says_what_to_do(monkeypatch: pytest.MonkeyPatch, code: int, word: str) -> None:
    def refuse(_: serial.Serial) -> None:
        raise serial.SerialException(code, "could not open port")

    monkeypatch.setattr(serial.Serial, "open", refuse)
    with pytest.raises(Refused) as caught:
        open_at("/dev/ttyUSB0")
    assert word in caught.value.fix


def test_a_file_is_no_port(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("dev") / "file"
    path.write_bytes(b"")
    with pytest.raises(Refused):
        open_at(str(path))


ADAPTER = UsbSerialAddress("usb:403:6001:A", 0x403, 0x6001, "A")


def adapter_at(device: str, serial_number: str = "A") -> Port:
    return Port(device, "adapter", 0x403, 0x6001, serial_number)


def test_an_adapter_is_found_by_what_it_is(far: FarPort) -> None:
    now = [Port("/dev/ttyOTHER", "", 1, 2, "B"), adapter_at(far.device)]
    SerialLink.open(ADAPTER, Serial(), "handheld", lambda: now).close()
    with pytest.raises(Refused) as caught:
        SerialLink.open(ADAPTER, Serial(), "handheld", lambda: now[:1])
    assert caught.value.problem == "no adapter usb:403:6001:A is plugged in"


def test_an_adapter_that_comes_back_under_another_name_is_the_same(far: FarPort) -> None:
    now = [adapter_at(far.device)]
    back = Reappearing(ADAPTER, lambda: now)
    link = SerialLink.open(ADAPTER, Serial(), "handheld", lambda: now)
    assert not back()
    far.unplug()
    now.clear()
    with pytest.raises(Gone):
        received(link, 1)
    link.close()
    assert not back()
    with far_port() as other:
        now += [adapter_at("/dev/ttyOTHER", "B"), adapter_at(other.device)]
        assert [back(), back()] == [True, False]
        link = SerialLink.open(ADAPTER, Serial(), "handheld", lambda: now)
        other.say(b"here")
        assert received(link, 4) == b"here"
        link.close()


def test_only_a_port_of_this_computer_can_reappear(tmp_path: Path) -> None:
    # A file stands for its device: the number of a pseudo-terminal that is closed is given to the next one at once.
    device = tmp_path / "ttyUSB0"
    device.touch()
    there = SerialAddress(str(device), str(device))
    assert plugged_in(there)
    assert plugged_in(SerialAddress("socket://h:1", "socket://h:1"), list)
    assert plugged_in(SerialAddress("COM3", "COM3"), lambda: [Port("com3")])
    assert not plugged_in(SerialAddress("COM3", "COM3"), list)
    assert not Reappearing(TcpAddress("tcp://h:1", "h", 1), list)()
    device.unlink()
    assert not plugged_in(there)


def test_the_ports_of_this_computer_are_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [
        SimpleNamespace(
            device="COM3", name="COM3", description="n/a", vid=None, pid=None, serial_number=None
        ),
        SimpleNamespace(
            device="COM4", name="COM4", description="Adapter", vid=0x403, pid=0x6001, serial_number="A"
        ),
    ]
    monkeypatch.setattr(list_ports, "comports", lambda: found)
    assert ports() == [Port("COM3"), Port("COM4", "Adapter", 0x403, 0x6001, "A")]
    assert [port.address for port in ports()] == ["COM3", "usb:0403:6001:A"]


# --- over a network ------------------------------------------------------------------------------


@pytest.fixture
def tcp() -> Iterator[FarEnd]:
    with far_end(multimeter()) as made:
        yield made


@pytest.mark.parametrize("mode", ["waited on", "in slices"])
def test_a_socket_as_a_serial_port(tcp: FarEnd, mode: str, monkeypatch: pytest.MonkeyPatch) -> None:
    if mode == "in slices":
        monkeypatch.setattr(link_serial, "_descriptor", lambda _: None)
    link = open_at(f"socket://127.0.0.1:{tcp.port}")
    link.send(b"*IDN?\n")
    assert received(link, 18) == b"FAR END,METER,0,1\n"
    tcp.say(b"last")
    tcp.hang_up()
    assert received(link, 4) == b"last"
    with pytest.raises(Gone):
        link.receive(HANG)
    link.close()


def test_nobody_listens_at_a_socket() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with pytest.raises(Refused):
        open_at(f"socket://127.0.0.1:{port}")


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial's own
def test_a_serial_server_that_accepts_and_says_nothing_does_not_hold_up_the_opening() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"rfc2217://127.0.0.1:{server.getsockname()[1]}"
        with pytest.raises(TimedOut) as caught:
            SerialLink.open(SerialAddress(url, url), Serial(), "handheld", deadline=0.2)
        assert caught.value.problem == f"{url} did not open within 0.2 s"
        # What opens too late is closed: pyserial gives up in its own time, and the connection ends.
        peer, _ = server.accept()
        with peer:
            peer.settimeout(HANG)
            while peer.recv(4096):
                continue


def serve_rfc2217(server: socket.socket) -> None:
    """A serial server that repeats what it is sent, once."""
    peer, _ = server.accept()
    with peer, serial.serial_for_url("loop://", timeout=0) as port:
        manager = serial.rfc2217.PortManager(cast(Any, port), cast(Any, SimpleNamespace(write=peer.sendall)))
        while data := peer.recv(1024):
            answer = b"".join(manager.escape(b"".join(manager.filter(data))))
            if answer:
                peer.sendall(answer)


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial's own
def test_a_serial_server_of_rfc_2217() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        serving = threading.Thread(target=serve_rfc2217, args=(server,), daemon=True)
        serving.start()
        link = open_at(f"rfc2217://127.0.0.1:{server.getsockname()[1]}")
        link.send(b"+1.0 V DC\r\n")
        assert received(link, 11) == b"+1.0 V DC\r\n"
        assert link.receive(0.0) == b""
        link.close()
        serving.join()
