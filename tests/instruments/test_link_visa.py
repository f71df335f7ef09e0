"""One VISA session by itself, over HiSLIP and VXI-11: what is read, what is lost, and which error it is."""

import contextlib
import threading
from collections.abc import Callable, Iterator

import pytest
import pyvisa
from helpers.far_hislip import FarHislip, answering, far_hislip
from helpers.far_vxi11 import FarVxi11, far_vxi11
from helpers.faulty import Faulty
from helpers.until import until
from pyvisa.constants import StatusCode

from benchlog.errors import Gone, LinkError, Refused, TimedOut
from benchlog.instruments import link_visa
from benchlog.instruments.link_visa import Session, as_link_error
from benchlog.instruments.visa_frames import DATA, FAILED, Frames, failure, pack, pack_failure

HANG_MS = 60_000


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A busy machine may take long to bring the rest of an answer."""
    monkeypatch.setattr(link_visa, "REST_MS", HANG_MS)


Open = Callable[[FarHislip | FarVxi11], Session]


@pytest.fixture
def opened() -> Iterator[Open]:
    made: list[Session] = []

    def open_at(far: FarHislip | FarVxi11) -> Session:
        made.append(Session(far.address, b"\n", HANG_MS))
        return made[-1]

    yield open_at
    for one in made:
        with contextlib.suppress(Exception):  # its far end is gone
            one.close()


def answer(session: Session, message: bytes) -> bytes:
    session.write(message)
    got = b""
    while session.open:
        got += session.read()
    return got


def test_an_answer_is_whole_with_its_end(opened: Open) -> None:
    answers = {"A?": b"+1.5\r\n", "ONE?": b"\n", "LONG?": b"1" * 200_000 + b"\n"}
    with far_hislip(answering(answers)) as far:
        session = opened(far)
        session.write(b"CONF\n")
        assert not session.open, "nothing is read where nothing was asked"
        assert answer(session, b"A?\n") == b"+1.5\n"
        assert answer(session, b"ONE?\n") == b"\n"
        assert answer(session, b"LONG?\n") == b"1" * 200_000 + b"\n"


def test_silence_is_no_bytes_and_the_next_question_has_its_own_answer(
    opened: Open,
) -> None:
    mind = Faulty(["silence"])
    with far_hislip(mind.play) as far:
        session = opened(far)
        assert [answer(session, b"READ?\n") for _ in range(2)] == [b"+1.00000000E+00\n", b"+2.00000000E+00\n"]
        session.write(b"READ?\n")
        assert session.read() == b""
        assert session.open
        assert answer(session, b"READ?\n") == b"+4.00000000E+00\n"


def test_over_vxi_11_what_came_too_late_is_cleared_before_the_next_question(opened: Open) -> None:
    may_answer = threading.Event()

    def play(line: str, send: Callable[[bytes], None]) -> str:
        if line == "LATE?":
            may_answer.wait(HANG_MS / 1000)
            send(b"+6.66\n")
        if line == "LONG?":
            send(b"1" * 100_000 + b"\n")
        if line == "A?":
            send(b"+1.5\r\n")
        return ""

    with far_vxi11(play) as far:
        session = opened(far)
        session.write(b"CONF\n")
        assert not session.open
        assert answer(session, b"A?\n") == b"+1.5\n"
        assert answer(session, b"LONG?\n") == b"1" * 100_000 + b"\n"
        session.write(b"LATE?\n")
        assert session.read() == b""
        session.write(b"OFF\n")
        assert (far.heard[-1], far.clears) == ("OFF", 0), "what may switch off waits for nothing"
        may_answer.set()
        until(lambda: far.waits, "the late answer")
        assert answer(session, b"A?\n") == b"+1.5\n"
        assert far.clears == 1
        assert len(session.sockets()) == 1
        session.close()


def test_an_answer_that_breaks_off_ends_the_session(opened: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(link_visa, "REST_MS", 100)
    mind = Faulty(["half"])
    with far_hislip(mind.play) as far:
        session = opened(far)
        for _ in range(2):
            answer(session, b"READ?\n")
        with pytest.raises(Gone, match="in the middle of an answer"):
            answer(session, b"READ?\n")


def test_a_vendors_library_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCHLOG_VISA", "/nowhere/libvisa.so")
    with pytest.raises(Exception, match="nowhere") as caught:
        Session("GPIB0::7::INSTR", b"\n", 100)
    assert isinstance(as_link_error(caught.value, opening=True), Refused)


@pytest.mark.parametrize(
    ("error", "opening", "kind", "words"),
    [
        (pyvisa.VisaIOError(StatusCode.error_timeout), True, TimedOut, "did not answer"),
        (pyvisa.VisaIOError(StatusCode.error_resource_busy), True, Refused, "another program uses it"),
        (pyvisa.VisaIOError(StatusCode.error_connection_lost), False, Gone, "the connection broke"),
        (BrokenPipeError(32, "Broken pipe"), False, Gone, "Broken pipe"),
        (Exception("could not connect. Try again."), True, Refused, "(could not connect)"),
        (RuntimeError(), False, Gone, "RuntimeError"),
        (Gone("", "is away"), True, Gone, "is away"),
    ],
)
def test_each_failure_is_one_of_ours(
    error: Exception, opening: bool, kind: type[LinkError], words: str
) -> None:
    made = as_link_error(error, opening)
    assert type(made) is kind
    assert words in made.problem


def test_frames_come_whole_however_they_are_cut() -> None:
    sent = pack(DATA, b"+1.5\n") + pack_failure(Refused("", "is away", "wait"))
    frames = Frames()
    got = [frame for n in range(len(sent)) for frame in frames.feed(sent[n : n + 1])]
    assert got[0] == (DATA, b"+1.5\n")
    assert got[1][0] == FAILED
    assert str(failure(got[1][1], "lamp")) == "lamp: is away; wait."
