"""Two ends of a pipe: versions that differ part, bad lines are survived, the end and silence are known."""

import os
import queue
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.until import until

from benchlog import errors
from benchlog.recorder import messages
from benchlog.recorder.channel import Channel, Silence
from benchlog.recorder.framing import decode_incoming, decode_outgoing, encode

Item = messages.Message | tuple[errors.LinkError, int] | str


class End:
    """One end of a channel that keeps what it heard."""

    def __init__(self, channel: Channel) -> None:
        self.channel = channel
        self.heard: queue.SimpleQueue[Item] = queue.SimpleQueue()

    def listen(self) -> None:
        self.channel.listen(
            self.heard.put,
            lambda error, request: self.heard.put((error, request)),
            lambda: self.heard.put("end"),
        )

    def next(self) -> Item:
        return self.heard.get(timeout=30.0)


class Pair:
    """A recorder's end and the bare pipes of its client."""

    def __init__(self) -> None:
        there, self.write = os.pipe()
        self.read, here = os.pipe()
        self.recorder = End(Channel(there, here, decode_incoming, peer="client"))
        self.ours = {self.write, self.read}

    def client(self) -> End:
        """The client's end, as a channel in its turn."""
        self.ours.clear()
        return End(Channel(self.read, self.write, decode_outgoing, peer=errors.WATCH))

    def say(self, data: bytes) -> None:
        os.write(self.write, data)

    def hang_up(self) -> None:
        if self.write in self.ours:
            self.ours.remove(self.write)
            os.close(self.write)


@pytest.fixture
def pair() -> Iterator[Pair]:
    made = Pair()
    yield made
    made.recorder.channel.close()
    for descriptor in made.ours:
        os.close(descriptor)


def hello(version: int = messages.VERSION) -> bytes:
    return encode(messages.Hello(version=version, program="0.0"))


def test_both_ends_greet_and_talk(pair: Pair) -> None:
    client = pair.client()
    client.channel.send(messages.Hello(version=messages.VERSION, program="2.0", pid=7))
    assert pair.recorder.channel.greet("1.0") == messages.Hello(
        version=messages.VERSION, program="2.0", pid=7
    )
    answer = client.channel.greet("2.0")
    assert answer.program == "1.0"
    assert answer.pid == os.getpid()
    pair.recorder.listen()
    client.listen()
    assert isinstance(pair.recorder.next(), messages.Hello)  # The greeting above, sent a second time.
    client.channel.send(messages.Cut(id=1))
    assert pair.recorder.next() == messages.Cut(id=1)
    readings = messages.Readings(batches=[messages.Batch(trace="lamp", rows=[(0, 5, 1.5, "ok")])])
    pair.recorder.channel.send(readings)
    assert client.next() == readings
    client.channel.close()
    assert pair.recorder.next() == "end"
    assert pair.recorder.channel.broken
    pair.recorder.channel.close()
    assert client.next() == "end"


def test_unequal_versions_are_refused(pair: Pair) -> None:
    pair.say(hello(version=99))
    with pytest.raises(errors.Refused, match="speaks by version 99"):
        pair.recorder.channel.greet("1.0")


def test_a_peer_that_does_not_greet_is_not_waited_for(pair: Pair) -> None:
    with pytest.raises(errors.TimedOut, match=r"client: did not answer within 0\.01 s"):
        pair.recorder.channel.greet("1.0", timeout=0.01)


def test_a_peer_that_ends_before_its_greeting_is_gone(pair: Pair) -> None:
    pair.hang_up()
    with pytest.raises(errors.Gone, match="ended before it said hello"):
        pair.recorder.channel.greet("1.0")


def test_a_first_line_of_rubbish_is_garbled(pair: Pair) -> None:
    pair.say(b"GET / HTTP/1.1\n")
    with pytest.raises(errors.Garbled, match="is not JSON"):
        pair.recorder.channel.greet("1.0")


def test_a_bad_line_costs_itself_alone(pair: Pair) -> None:
    pair.say(hello())
    pair.recorder.channel.greet("1.0")
    pair.recorder.listen()
    pair.say(b'rubbish\n{"is":"horoscope","id":3}\n' + encode(messages.Cut(id=4)))
    first, second = pair.recorder.next(), pair.recorder.next()
    assert isinstance(first, tuple)
    assert isinstance(first[0], errors.Garbled)
    assert first[1] == 0
    assert isinstance(second, tuple)
    assert isinstance(second[0], errors.Refused)
    assert second[1] == 3
    assert pair.recorder.next() == messages.Cut(id=4)
    pair.hang_up()
    assert pair.recorder.next() == "end"


def test_a_line_cut_off_by_the_end_is_no_message(pair: Pair) -> None:
    pair.say(hello())
    pair.recorder.channel.greet("1.0")
    pair.recorder.listen()
    pair.say(encode(messages.Cut(id=4))[:-3])
    pair.hang_up()
    assert pair.recorder.next() == "end"


def test_silence_grows_only_while_it_is_watched_and_ends_with_a_line(pair: Pair) -> None:
    pair.say(hello())
    pair.recorder.channel.greet("1.0")
    pair.recorder.listen()
    channel = pair.recorder.channel
    until(lambda: channel.silence() > 0.05, "silence")
    pair.say(encode(messages.Beat(n=1)))
    assert pair.recorder.next() == messages.Beat(n=1)
    assert channel.silence() == 0.0


def test_a_watcher_that_was_stopped_itself_blames_nobody() -> None:
    silence = Silence(step=0.25)
    begin = silence._looked
    assert silence.look(begin + 0.1) == pytest.approx(0.1)
    assert silence.look(begin + 60.0) == pytest.approx(0.35)
    silence.heard()
    assert silence.look(begin + 60.2) == 0.0
    assert silence.look(begin + 60.3) == pytest.approx(0.1)
    assert silence.look(begin + 1.0) == pytest.approx(0.1)  # No clock runs backwards here.


def test_a_pipe_that_cannot_be_read_has_ended(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    with os.fdopen(reading):
        channel = Channel(os.open(tmp_path, os.O_RDONLY), writing, decode_incoming, peer="client")
        with pytest.raises(errors.Gone):
            channel.greet("1.0")
        channel.close()


SCRIPT = """
import os, sys
from benchlog.recorder.channel import own_pipes
reading, writing = own_pipes()
print("stray words", flush=True)
os.write(writing, b"heard " + os.read(reading, 100) + b"|" + os.read(0, 100))
print(os.get_inheritable(reading), os.get_inheritable(writing), flush=True)
"""


def test_the_pipes_belong_to_the_channel_alone() -> None:
    done = subprocess.run([sys.executable, "-c", SCRIPT], input=b"words", capture_output=True, check=True)
    assert done.stdout == b"heard words|"
    assert done.stderr.split() == [b"stray", b"words", b"False", b"False"]
