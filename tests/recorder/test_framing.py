"""Lines split anywhere come out whole; a bad line costs itself alone and is refused in its own sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog import errors
from benchlog.recorder import messages
from benchlog.recorder.framing import (
    WINDOW,
    Framer,
    check_hello,
    complaint,
    decode_incoming,
    decode_outgoing,
    encode,
    request_of,
)

LINES = st.lists(st.binary(max_size=40).map(lambda line: line.replace(b"\n", b"")), max_size=8)


def split(data: bytes, cuts: list[int]) -> list[bytes]:
    places = sorted({cut % (len(data) + 1) for cut in cuts})
    return [data[a:b] for a, b in zip([0, *places], [*places, len(data)], strict=True)]


@given(LINES, st.lists(st.integers(min_value=0)))
def test_lines_split_anywhere_come_out_whole(lines: list[bytes], cuts: list[int]) -> None:
    framer = Framer(limit=20)
    found = []
    for piece in split(b"".join(line + b"\n" for line in lines), cuts):
        found += framer.feed(piece)
    assert found == [line if len(line) <= 20 else None for line in lines]


@given(st.lists(st.integers(min_value=0), max_size=6))
def test_messages_split_anywhere_come_out_whole(cuts: list[int]) -> None:
    sent: list[messages.Message] = [
        messages.Beat(n=7),
        messages.Remark(id=1, remark="r", text="hum\nand smell, 4k7 Ω"),
        messages.Cut(id=2),
    ]
    framer = Framer()
    found = []
    for piece in split(b"".join(map(encode, sent)), cuts):
        found += [decode_incoming(line) for line in framer.feed(piece)]
    assert found == sent


def test_a_line_too_long_is_told_before_it_ends_and_what_follows_is_read() -> None:
    framer = Framer(limit=4)
    assert framer.feed(b"123456") == [None]
    assert framer.feed(b"7890") == []
    assert framer.feed(b"12\nok\n") == [b"ok"]


@pytest.mark.parametrize(
    ("line", "kind", "sentence"),
    [
        (None, errors.Garbled, "sent a line that is too long"),
        (b'{"is":"cut","id":1,"reason":"\xff"}', errors.Garbled, "sent a line that is not UTF-8"),
        (b"\x80", errors.Garbled, "sent a line that is not UTF-8"),
        (b"", errors.Garbled, "sent a line that is not JSON (Input data was truncated)"),
        (b"{nonsense", errors.Garbled, "sent a line that is not JSON"),
        (b'{"is":"beat","n":1,"x":' + b"[" * 100_000, errors.Garbled, "nested too deep"),
        (b'{"is":"beat","n":NaN}', errors.Garbled, "not JSON"),
        (b"[1]", errors.Refused, "does not name its kind"),
        (b'{"id":1}', errors.Refused, "does not name its kind"),
        (b'{"is":5}', errors.Refused, "does not name its kind"),
        (b'{"is":"horoscope"}', errors.Refused, "sent 'horoscope', which is not a kind of message"),
        (b'{"is":"readings","batches":[]}', errors.Refused, "sent 'readings', which is not a kind"),
        (b'{"is":"cut"}', errors.Refused, "sent a 'cut' that does not fit its shape (Object missing"),
        (b'{"is":"cut","id":"a"}', errors.Refused, "Expected `int`, got `str` - at `$.id`"),
    ],
)
def test_a_bad_line_is_refused_in_its_own_sentence(
    line: bytes | None, kind: type[errors.LinkError], sentence: str
) -> None:
    with pytest.raises(kind) as caught:
        decode_incoming(line)
    assert caught.value.place == WINDOW
    assert sentence in caught.value.problem
    assert caught.value.fix


def test_the_recorders_bad_line_is_laid_at_its_own_door() -> None:
    with pytest.raises(errors.Refused) as caught:
        decode_outgoing(b'{"is":"cut","id":1}')
    assert caught.value.place == errors.WATCH


@given(st.binary(max_size=60) | st.text(max_size=60).map(str.encode))
def test_no_bytes_do_more_than_be_refused(line: bytes) -> None:
    assert isinstance(request_of(line), int)
    for decode in (decode_incoming, decode_outgoing):
        with pytest.raises(errors.LinkError):
            decode(line)


def test_a_message_too_long_to_be_read_is_not_sent() -> None:
    with pytest.raises(errors.Garbled) as caught:
        encode(messages.Remark(id=1, remark="r", text="x" * messages.LINE_LIMIT))
    assert "'remark' was not passed on: it is 1,048,6" in caught.value.problem


@pytest.mark.parametrize(
    ("line", "request_id"),
    [
        (b'{"is":"horoscope","id":5}', 5),
        (b'{"is":"cut","id":true}', 0),
        (b'{"is":"cut","id":"5"}', 0),
        (b'{"is":"cut","id":5', 0),
        (b'{"id":5,"x":"\xff"}', 5),
        (b'{"id":5,"x":' + b"[" * 100_000, 0),
        (None, 0),
    ],
)
def test_the_request_behind_a_bad_line_is_told_where_it_can_be(line: bytes | None, request_id: int) -> None:
    assert request_of(line) == request_id


def test_a_bad_request_is_refused_and_any_other_bad_line_noticed() -> None:
    # In words for a person: what was wrong with the line is for the log.
    error = errors.Refused(WINDOW, "sent a line that is not JSON", "mend it")
    said = "said something that cannot be understood"
    fix = "update benchlog, so that both ends are of one version"
    assert complaint(error, 4) == messages.Refused(id=4, faults=[(WINDOW, said, fix)])
    assert complaint(error, 0) == messages.Notice(place=WINDOW, problem=said, fix=fix)


def test_only_a_hello_of_the_same_version_is_let_in() -> None:
    hello = messages.Hello(version=messages.VERSION, program="0.1.0")
    assert check_hello(hello, "client") is hello
    with pytest.raises(errors.Refused, match="did not greet"):
        check_hello(messages.Beat(n=1), "client")
    with pytest.raises(errors.Refused) as caught:
        check_hello(messages.Hello(version=messages.VERSION + 1, program="7.0"), errors.WATCH)
    assert caught.value.place == f"{errors.WATCH} (7.0)"
    assert f"speaks by version {messages.VERSION + 1}" in caught.value.problem
    with pytest.raises(errors.Refused) as caught:
        check_hello(messages.Hello(version=0), errors.WATCH)
    assert caught.value.place == errors.WATCH
