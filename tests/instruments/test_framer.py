"""Lines come out the same however the wire cut them, and the buffer stays small."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.instruments.framer import OVERLONG, LineFramer

ENDS = st.sampled_from([b"\n", b"\r\n", b"\r", b"\n\r>"])


def in_pieces(data: bytes, cuts: list[int]) -> list[bytes]:
    places = sorted({0, len(data), *(cut % (len(data) + 1) for cut in cuts)})
    return [data[a:b] for a, b in itertools.pairwise(places)]


def lines_of(pieces: list[bytes], end: bytes, limit: int = 12) -> tuple[list[bytes], bytes]:
    framer = LineFramer(end, limit)
    lines = [line for piece in pieces for line in framer.feed(piece)]
    return lines, framer.rest


def test_lines_come_without_their_ends() -> None:
    framer = LineFramer(b"\n", 64)
    assert framer.feed(b"one\ntwo\nthr") == [b"one", b"two"]
    assert not framer.empty
    assert framer.feed(b"ee\n") == [b"three"]
    assert framer.empty


def test_a_line_end_cut_in_two() -> None:
    framer = LineFramer(b"\r\n", 64)
    assert framer.feed(b"one\r") == []
    assert framer.feed(b"\ntwo\r\n") == [b"one", b"two"]


@pytest.mark.parametrize("size", [5, 6, 7, 8, 9, 100])
def test_a_line_too_long_comes_as_one_that_no_form_can_read(size: int) -> None:
    long = b"9" * size
    expected = [long if size <= 6 else OVERLONG, b"ok"]
    for end in (b"\n", b"\r\n"):
        assert lines_of([long + end + b"ok" + end], end, 6)[0] == expected
        assert lines_of([bytes([b]) for b in long + end + b"ok" + end], end, 6)[0] == expected
    assert LineFramer(b"\n", 6).feed(long + b"\n") == expected[:1]


def test_the_buffer_never_grows_with_a_line_that_never_ends() -> None:
    framer = LineFramer(b"\r\n", 16)
    for _ in range(1000):
        assert framer.feed(b"x" * 50) == []
        assert len(framer.rest) <= 1
    assert not framer.empty
    assert framer.feed(b"\r\nok\r\n") == [OVERLONG, b"ok"]


def test_a_line_that_has_begun_can_be_forgotten() -> None:
    framer = LineFramer(b"\n", 16)
    framer.feed(b"half")
    assert framer.clear() == b"half"
    assert framer.empty
    assert framer.feed(b"whole\n") == [b"whole"]


@given(
    st.lists(st.binary(max_size=20), max_size=8), st.binary(max_size=20), ENDS, st.lists(st.integers(0, 999))
)
def test_split_anywhere_the_lines_are_the_same(
    lines: list[bytes], tail: bytes, end: bytes, cuts: list[int]
) -> None:
    data = b"".join(line + end for line in lines) + tail
    whole, rest = lines_of([data], end)
    cut, cut_rest = lines_of(in_pieces(data, cuts), end)
    assert cut == whole
    if len(rest) <= 12:
        assert cut_rest == rest
