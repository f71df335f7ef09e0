"""A reader that stands still never blocks a sender; readings give way, everything else is kept in order."""

import os
import threading
from collections.abc import Iterator

import pytest
from helpers.until import until

from benchlog.recorder import messages
from benchlog.recorder.framing import Framer, decode_outgoing
from benchlog.recorder.sender import MOST_ROWS, Row, Sender


class Pipe:
    """A pipe with a reading end that the test reads when it likes."""

    def __init__(self) -> None:
        self.reading, self.writing = os.pipe()
        self.framer = Framer()

    def rest(self) -> list[messages.Outgoing]:
        """Everything until the end."""
        found: list[messages.Outgoing] = []
        while data := os.read(self.reading, 1 << 16):
            found += [decode_outgoing(line) for line in self.framer.feed(data)]
        return found

    def some(self) -> list[messages.Outgoing]:
        """What one read gives."""
        return [decode_outgoing(line) for line in self.framer.feed(os.read(self.reading, 1 << 16))]


@pytest.fixture
def pipe() -> Iterator[Pipe]:
    made = Pipe()
    yield made
    os.close(made.reading)


def event(number: int, size: int = 0) -> messages.Event:
    return messages.Event(t=number, kind="note", text="x" * size)


def add(sender: Sender, trace: str, row: Row) -> None:
    """Send one reading."""
    sender.send(messages.Readings(batches=[messages.Batch(trace=trace, rows=[row])]))


def rows(found: list[messages.Outgoing], trace: str) -> list[int]:
    batches = [b for m in found if isinstance(m, messages.Readings) for b in m.batches if b.trace == trace]
    return [row[0] for batch in batches for row in batch.rows]


def test_messages_go_out_in_order_and_whole(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    for number in range(500):
        sender.send(event(number))
    assert sender.close(30.0)
    assert [m.t for m in pipe.rest() if isinstance(m, messages.Event)] == list(range(500))


def test_readings_are_merged_by_trace_in_order(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    for number in range(1000):
        add(sender, "lamp", (number, number, 1.5, "ok"))
        sender.send(
            messages.Readings(batches=[messages.Batch(trace="+B", rows=[(number, number, None, "late")])])
        )
    assert sender.close(30.0)
    found = pipe.rest()
    assert rows(found, "lamp") == rows(found, "+B") == list(range(1000))
    assert sender.dropped == 0


def test_a_stalled_reader_loses_readings_but_no_event(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    for number in range(100):
        sender.send(event(number, size=10_000))
    # The pipe is full now, and the thread stands in its write: nothing of this may block.
    for number in range(3 * MOST_ROWS):
        add(sender, "lamp", (number, number, 1.5, "ok"))
        sender.send(messages.Beat(n=number))
    sender.send(event(100))
    closing = threading.Thread(target=sender.close, args=(30.0,))
    closing.start()
    found = pipe.rest()
    closing.join()
    assert [m.t for m in found if isinstance(m, messages.Event)] == list(range(101))
    got = rows(found, "lamp")
    assert got == sorted(set(got))
    assert got[-1] == 3 * MOST_ROWS - 1
    assert len(got) + sender.dropped == 3 * MOST_ROWS
    assert sender.dropped >= MOST_ROWS
    beats = [m.n for m in found if isinstance(m, messages.Beat)]
    assert beats[-1] == 3 * MOST_ROWS - 1
    assert len(beats) < 100


def test_a_stalled_reader_does_not_hold_up_closing(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    for number in range(100):
        sender.send(event(number, size=10_000))
    assert not sender.close(0.05)
    sender.send(event(101))  # Nobody is there any more to take it; nothing happens.
    add(sender, "lamp", (1, 1, 1.0, "ok"))
    assert len([m for m in pipe.rest() if isinstance(m, messages.Event)]) == 100


def test_readings_wait_for_their_turn_and_events_do_not(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    add(sender, "lamp", (0, 0, 1.5, "ok"))
    first = pipe.some()
    add(sender, "lamp", (1, 1, 1.5, "ok"))
    sender.send(event(1))
    following: list[messages.Outgoing] = []
    while len(following) < 2:
        following += pipe.some()
    assert rows(first, "lamp") == [0]
    assert isinstance(following[0], messages.Event)
    assert rows(following, "lamp") == [1]
    sender.close(30.0)


def test_no_line_of_readings_grows_too_long(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    batch: list[Row] = [(10**9 + n, 10**15 + n, 1.2345678901234567, "not a number") for n in range(MOST_ROWS)]
    traces = [f"a rather long name of a trace, number {number}" for number in range(12)]
    sender.send(messages.Readings(batches=[messages.Batch(trace=trace, rows=batch) for trace in traces]))
    closing = threading.Thread(target=sender.close, args=(30.0,))
    closing.start()
    found = pipe.rest()
    closing.join()
    assert {len(rows(found, trace)) for trace in traces} == {MOST_ROWS}
    assert not any(isinstance(m, messages.Notice) for m in found)


def test_readings_come_before_the_close_of_their_session(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    add(sender, "lamp", (0, 0, 1.5, "ok"))
    add(sender, "lamp", (1, 0, 1.5, "ok"))
    sender.send(messages.Closed(path="x", outcome="ended", reason="told", folded=True))
    sender.close(30.0)
    found = pipe.rest()
    assert rows(found, "lamp") == [0, 1]
    assert isinstance(found[-1], messages.Closed)


def test_no_reading_from_before_a_session_comes_after_its_begin(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    add(sender, "lamp", (56, 0, 1.5, "ok"))
    add(sender, "lamp", (57, 0, 1.5, "ok"))
    sender.send(messages.Event(t=0, kind="armed", text="armed", data={}))
    add(sender, "lamp", (1, 0, 1.5, "ok"))
    sender.close(30.0)
    found = pipe.rest()
    kinds = [message.kind for message in found if isinstance(message, messages.Event)]
    at = next(i for i, message in enumerate(found) if isinstance(message, messages.Event))
    assert kinds == ["armed"]
    assert (rows(found[:at], "lamp"), rows(found[at:], "lamp")) == ([56, 57], [1])


def test_a_message_that_is_too_long_is_told_of_in_its_place(pipe: Pipe) -> None:
    sender = Sender(pipe.writing, "test")
    sender.send(event(1, size=messages.LINE_LIMIT))
    sender.send(event(2))
    sender.close(30.0)
    told, following = pipe.rest()
    assert isinstance(told, messages.Notice)
    assert "'event' was not passed on" in told.problem
    assert following == event(2)


def test_a_reader_that_is_gone_is_noticed_and_costs_nothing() -> None:
    pipe = Pipe()
    os.close(pipe.reading)
    sender = Sender(pipe.writing, "test")
    sender.send(event(1))
    until(lambda: sender.broken, "the broken pipe")
    sender.send(event(2))
    add(sender, "lamp", (0, 0, 1.0, "ok"))
    assert not sender.close(30.0)
