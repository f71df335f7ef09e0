"""A free-running meter's lines become readings wherever we join in and however they are cut."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.reading import Function, Outcome
from benchlog.instruments.profile import Profile, Wire, find_profile
from benchlog.instruments.profile_function import FunctionSettings
from benchlog.instruments.profile_reply import Reply
from benchlog.instruments.stream import CUT_OFF, Stream

SECOND = 1_000_000_000
HANDHELD = find_profile("ascii-handheld")
LINE = b"+023.41 V AC\r\n"


def stream(profile: Profile = HANDHELD) -> Stream:
    return Stream(profile, None, 0)


def test_the_first_line_may_be_half_and_is_dropped() -> None:
    made = stream()
    assert made.feed(b"3.41 V AC\r\n", 1) == []
    (reading,) = made.feed(LINE, 2)
    assert (reading.value, reading.function, reading.at) == (23.41, Function.VOLTS_AC, 2)
    assert made.function is Function.VOLTS_AC


def test_a_reading_carries_the_time_its_last_byte_came() -> None:
    made = stream()
    made.feed(b"\n+023.4", 1)
    (reading,) = made.feed(b"1 V AC\r\n", 5)
    assert reading.at == 5


def test_several_lines_of_one_chunk_are_several_readings() -> None:
    made = stream()
    readings = made.feed(b"\n" + LINE + b"-001.00 V AC\r\n", 1)
    assert [reading.value for reading in readings] == [23.41, -1.0]


def test_silence_is_told_once_each_deadline() -> None:
    made = stream()
    assert made.due == 3 * SECOND
    made.feed(b"\n+02", 1)
    reading = made.expire(3 * SECOND)
    assert (reading.outcome, reading.value, reading.raw) == (Outcome.MISSING, None, "+02")
    assert made.due == 6 * SECOND
    made.feed(LINE[3:], 1 + CUT_OFF)
    assert made.due == 1 + CUT_OFF + 3 * SECOND


def test_bytes_that_end_no_line_do_not_count_as_life() -> None:
    made = stream()
    made.feed(b"\nx", 2 * SECOND)
    assert made.due == 3 * SECOND


def test_a_line_cut_off_is_not_completed_by_the_next_one() -> None:
    made = stream()
    made.feed(b"\n+02", 0)
    assert made.feed(b"+024.00 V AC\r\n", CUT_OFF + 1) == []
    assert [reading.value for reading in made.feed(LINE, CUT_OFF + 2)] == [23.41]


def test_garbage_is_malformed_and_the_next_line_is_read() -> None:
    made = stream()
    readings = made.feed(b"\n\xff\x00garbage\r\n" + b"x" * 500 + b"\n" + LINE, 1)
    assert [reading.outcome for reading in readings] == [Outcome.MALFORMED, Outcome.MALFORMED, Outcome.OK]


def test_a_stream_of_bare_numbers_measures_the_one_function_of_its_profile() -> None:
    settings = FunctionSettings(scale=1e-3, reply=Reply(prefix="T"))
    profile = Profile(
        name="bare", kind="stream", link=Wire(reply_end="\r"), function={"temperature": settings}
    )
    made = stream(profile)
    (reading,) = made.feed(b"\rT21500\r", 1)
    assert (reading.value, reading.function) == (21.5, Function.TEMPERATURE)


def test_what_it_should_measure_is_what_a_missing_reading_is_of() -> None:
    made = Stream(HANDHELD, Function.VOLTS_AC, 0)
    assert made.expire(SECOND).function is Function.VOLTS_AC


@given(
    st.lists(
        st.sampled_from([LINE, b"-OL V DC\r\n", b"\xfe\r\n", b"+1.5 mV DC HOLD\r\n", b"\r\n"]), max_size=8
    ),
    st.lists(st.integers(0, 999), max_size=8),
)
def test_split_anywhere_the_readings_are_the_same(lines: list[bytes], cuts: list[int]) -> None:
    data = b"half\n" + b"".join(lines) + b"+0"
    places = sorted({0, len(data), *(cut % (len(data) + 1) for cut in cuts)})
    whole, cut = stream(), stream()
    expected = [reading._replace(at=0) for reading in whole.feed(data, 1)]
    pieces = [data[a:b] for a, b in itertools.pairwise(places)]
    readings = [reading for n, piece in enumerate(pieces) for reading in cut.feed(piece, n)]
    assert [reading._replace(at=0) for reading in readings] == expected
    assert len(expected) == len(lines)


@given(st.lists(st.binary(max_size=40), max_size=10))
def test_noise_never_raises(chunks: list[bytes]) -> None:
    made = stream()
    for n, chunk in enumerate(chunks):
        for reading in made.feed(chunk, n * SECOND):
            assert (reading.value is not None) == (reading.outcome is Outcome.OK)


@pytest.mark.parametrize("name", ["HOLD", "LOBAT"])
def test_annunciators_come_along(name: str) -> None:
    made = stream()
    (reading,) = made.feed(b"\n+1.0 V DC " + name.encode() + b"\r\n", 1)
    assert reading.flags
