"""The TCP wire over loopback: never a hang, never a spin, a dead peer noticed at once."""

import select
import socket
import threading
import time
from collections.abc import Iterator

import pytest
from helpers.far_end import FarEnd, far_end, multimeter

from benchlog.errors import Gone, Refused, TimedOut
from benchlog.instruments import link_tcp
from benchlog.instruments.link_tcp import TcpLink

HANG = 30.0
"""No wait of these tests takes so long unless something hangs."""


@pytest.fixture
def far() -> Iterator[FarEnd]:
    with far_end(multimeter()) as made:
        yield made


@pytest.fixture(params=["poll", "select"])
def link(far: FarEnd, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[TcpLink]:
    if request.param == "select":
        monkeypatch.delattr(select, "poll")
    made = TcpLink.open("127.0.0.1", far.port, "lamp", 5.0)
    far.connected.acquire()
    yield made
    made.close()


def send_often(link: TcpLink, data: bytes) -> None:
    end = time.monotonic() + HANG
    while time.monotonic() < end:
        link.send(data)


def test_a_question_and_its_answer(link: TcpLink) -> None:
    link.send(b"*IDN?\n")
    assert link.receive(HANG) == b"FAR END,METER,0,1\n"


def test_silence_is_no_bytes(link: TcpLink) -> None:
    assert link.receive(0.0) == b""
    assert link.receive(0.01) == b""


def test_a_wake_ends_a_wait_under_way(link: TcpLink) -> None:
    threading.Timer(0.02, link.wake).start()
    begun = time.monotonic()
    assert link.receive(HANG) == b""
    assert time.monotonic() - begun < HANG


def test_a_wake_before_the_wait_ends_it_once(link: TcpLink) -> None:
    for _ in range(3):
        link.wake()
    assert link.receive(0.0) == b""
    begun = time.monotonic()
    assert link.receive(HANG) == b""
    assert time.monotonic() - begun < HANG
    assert link.receive(0.01) == b""


def test_bytes_come_before_a_wake(link: TcpLink, far: FarEnd) -> None:
    link.send(b"*IDN?\n")
    while link.receive(HANG) == b"":
        pass
    far.say(b"x")
    link.wake()
    got = link.receive(HANG) or link.receive(HANG)
    assert got == b"x"


def test_more_wakes_than_anyone_can_hold_do_no_harm(link: TcpLink) -> None:
    for _ in range(20_000):
        link.wake()
    while link.receive(0.001):
        pass


@pytest.mark.parametrize("reset", [False, True])
def test_a_dead_peer_is_noticed_at_once_and_for_good(link: TcpLink, far: FarEnd, reset: bool) -> None:
    far.hang_up(reset=reset)
    begun = time.monotonic()
    for _ in range(3):
        with pytest.raises(Gone) as caught:
            link.receive(HANG)
    assert caught.value.place == "lamp"
    assert time.monotonic() - begun < HANG


def test_what_came_before_the_end_is_not_lost(link: TcpLink, far: FarEnd) -> None:
    far.say(b"last words\n")
    far.hang_up()
    assert link.receive(HANG) == b"last words\n"
    with pytest.raises(Gone):
        link.receive(HANG)


def test_sending_to_a_dead_peer_is_gone(link: TcpLink, far: FarEnd) -> None:
    far.hang_up(reset=True)
    with pytest.raises(Gone):
        send_often(link, b"READ?\n")


def test_a_far_end_that_does_not_read_is_gone_and_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    near, stuck = socket.socketpair()
    with stuck:
        link = TcpLink(near, "lamp")
        with pytest.raises(Gone) as caught:
            send_often(link, b"x" * 65536)
        assert caught.value.problem == "does not take what is sent"
        with pytest.raises(Gone):
            link.send(b"OUTP OFF\n")
        with pytest.raises(Gone):
            link.receive(HANG)
        link.close()


def test_a_line_longer_than_the_buffer_goes_out_whole() -> None:
    near, far_side = socket.socketpair()
    link = TcpLink(near, "lamp")
    got = bytearray()

    def read() -> None:
        while data := far_side.recv(65536):
            got.extend(data)

    reader = threading.Thread(target=read)
    reader.start()
    link.send(b"x" * (4 << 20))
    link.close()
    reader.join()
    far_side.close()
    assert len(got) == 4 << 20


def test_lines_of_two_threads_never_mix(link: TcpLink, far: FarEnd) -> None:
    def many(line: bytes) -> None:
        for _ in range(500):
            link.send(line)

    threads = [threading.Thread(target=many, args=(line,)) for line in (b"OUTP OFF\n", b"MEAS:VOLT 1\n")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    link.send(b"*IDN?\n")
    while link.receive(HANG) == b"":
        pass
    assert set(far.heard) == {"OUTP OFF", "MEAS:VOLT 1", "*IDN?"}
    assert len(far.heard) == 1001


def test_a_drain_ends_with_silence(link: TcpLink, far: FarEnd) -> None:
    far.say(b"old")
    link.wake()
    assert link.drain(0.2).endswith(b"old")
    assert link.drain(0.01) == b""


def test_a_drain_of_one_that_never_ends_ends(link: TcpLink, far: FarEnd) -> None:
    stop = threading.Event()

    def chatter() -> None:
        while not stop.wait(0.001):
            far.say(b"blah")

    talker = threading.Thread(target=chatter)
    talker.start()
    assert link.drain(0.02)
    stop.set()
    talker.join()


def test_closing_twice_and_waking_a_closed_one_do_no_harm(far: FarEnd) -> None:
    link = TcpLink.open("127.0.0.1", far.port, "lamp", 5.0)
    link.close()
    link.close()
    link.wake()
    with pytest.raises(Gone):
        link.send(b"x")


def test_nobody_listens() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with pytest.raises(Refused) as caught:
        TcpLink.open("127.0.0.1", port, "lamp", 5.0)
    assert caught.value.problem == f"nobody listens at 127.0.0.1 port {port}"


def test_nobody_answers_within_the_deadline() -> None:
    # A full backlog is as silent as a host that is switched off.
    with socket.create_server(("127.0.0.1", 0), backlog=0) as server:
        port = server.getsockname()[1]
        waiting = [socket.socket() for _ in range(4)]
        for one in waiting:
            one.setblocking(False)
            one.connect_ex(("127.0.0.1", port))
        with pytest.raises(TimedOut) as caught:
            TcpLink.open("127.0.0.1", port, "lamp", 0.05)
        for one in waiting:
            one.close()
    assert "nobody answered" in caught.value.problem


def test_a_host_without_a_network_cannot_be_reached() -> None:
    with pytest.raises((Refused, TimedOut)):
        TcpLink.open("255.255.255.255", 5025, "lamp", 0.05)


def test_a_name_is_looked_up(far: FarEnd) -> None:
    TcpLink.open("localhost", far.port, "lamp", 5.0).close()


def test_an_unknown_name_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", fail)
    with pytest.raises(Refused) as caught:
        TcpLink.open("meter.invalid", 5025, "lamp", 1.0)
    assert caught.value.problem == "the host meter.invalid is not known (Name or service not known)"


def test_a_name_service_that_hangs_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    done = threading.Event()

    def hang(*_: object, flags: int, **__: object) -> list[object]:
        if flags == 0:
            done.wait(HANG)
        return []

    monkeypatch.setattr(socket, "getaddrinfo", hang)
    with pytest.raises(TimedOut) as caught:
        TcpLink.open("meter.invalid", 5025, "lamp", 0.05)
    done.set()
    assert caught.value.problem == "the host name meter.invalid was not found in time"


def test_meeting_oneself_is_nobody(monkeypatch: pytest.MonkeyPatch, far: FarEnd) -> None:
    monkeypatch.setattr(link_tcp, "_met_itself", lambda _: True)
    with pytest.raises(Refused):
        TcpLink.open("127.0.0.1", far.port, "lamp", 5.0)
