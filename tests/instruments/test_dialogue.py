"""Step is never lost unnoticed: a reply is given under its own question or not at all."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.instruments.dialogue import LATE_KEPT, Dialogue, Manner, Phase
from benchlog.instruments.profile import find_profile

SECOND = 1_000_000_000
MANNER = replace(Manner.of(find_profile("scpi-multimeter")), deadline=SECOND, quiet=SECOND // 10)
ME = b"MAKER,METER,7,1\n"


def in_step(manner: Manner = MANNER) -> Dialogue:
    """A dialogue whose identity is known, at time 0."""
    made = Dialogue(manner)
    assert made.expire(0) == b"*IDN?\n"
    assert made.feed(ME, 0) is None
    assert made.phase is Phase.IDLE
    return made


def drained(dialogue: Dialogue) -> bytes:
    """Let silence pass until it proves itself; what it sends."""
    assert dialogue.phase is Phase.DRAINING
    return dialogue.expire(dialogue.due)


def test_it_begins_by_asking_who_is_there() -> None:
    made = in_step()
    assert made.identity == "MAKER,METER,7,1"


def test_without_an_identity_question_it_begins_at_once() -> None:
    made = Dialogue(replace(MANNER, identity_question=""))
    assert made.phase is Phase.IDLE
    assert made.identity == ""


def test_a_reply_answers_the_open_question() -> None:
    made = in_step()
    made.ask(SECOND + 5)
    assert (made.phase, made.due) == (Phase.ASKED, SECOND + 5)
    assert made.feed(b"+1.5E", 6) is None
    assert made.feed(b"+00\r\n", 7) == "+1.5E+00"
    assert made.phase is Phase.IDLE
    assert made.collect_late() == []


def test_a_missed_answer_is_late_when_it_comes_while_draining() -> None:
    made = in_step()
    made.ask(SECOND)
    assert made.expire(SECOND) == b""
    assert made.feed(b"+1.0\n", SECOND + 5) is None
    assert made.due == SECOND + 5 + MANNER.quiet
    assert made.collect_late() == ["+1.0"]
    assert drained(made) == b"*IDN?\n"
    assert made.feed(ME, 2 * SECOND) is None
    assert made.phase is Phase.IDLE


def test_a_missed_answer_is_late_when_it_comes_before_the_proof() -> None:
    made = in_step()
    made.ask(SECOND)
    made.expire(SECOND)
    drained(made)
    assert made.feed(b"+1.0\n" + ME, 2 * SECOND) is None
    assert made.phase is Phase.IDLE
    assert made.collect_late() == ["+1.0"]


def test_half_an_answer_is_kept_for_the_record_and_then_forgotten() -> None:
    made = in_step()
    made.ask(SECOND)
    made.feed(b"+1.2", 5)
    made.expire(SECOND)
    assert made.half_line() == "+1.2"
    drained(made)
    assert made.half_line() == ""
    made.feed(ME, 2 * SECOND)
    assert made.phase is Phase.IDLE


def test_the_second_half_of_an_answer_never_becomes_one() -> None:
    made = in_step()
    made.ask(SECOND)
    made.feed(b"+1", 5)
    made.expire(SECOND)
    drained(made)
    made.feed(b"234\n", 2 * SECOND)
    made.feed(ME, 2 * SECOND + 1)
    assert made.phase is Phase.IDLE
    assert made.collect_late() == ["234"]


@pytest.mark.parametrize("data", [b"+1.0\n+1.0\n", b"+1.0\n+1", b"+1.0\n\n"])
def test_an_answer_that_does_not_come_alone_answers_nothing(data: bytes) -> None:
    made = in_step()
    made.ask(SECOND)
    assert made.feed(data, 5) is None
    assert made.phase is Phase.DRAINING
    assert made.collect_late()[0] == "+1.0"
    assert drained(made) == b"*IDN?\n"


def test_what_nobody_asked_for_puts_it_out_of_step() -> None:
    made = in_step()
    assert made.feed(b"+1.0\n", 5) is None
    assert made.phase is Phase.DRAINING
    assert made.due == 5 + MANNER.quiet


def test_silence_instead_of_the_proof_loses_it() -> None:
    made = in_step()
    made.ask(SECOND)
    made.expire(SECOND)
    drained(made)
    assert made.expire(made.due) == b""
    assert made.phase is Phase.LOST
    assert made.reason == "does not answer *IDN?"


def test_another_identity_is_no_proof() -> None:
    made = in_step()
    made.slip(0)
    drained(made)
    made.feed(b"MAKER,METER,8,1\n", SECOND)
    assert made.phase is Phase.PROVING
    made.expire(made.due)
    assert made.phase is Phase.LOST
    assert made.reason == 'does not answer *IDN? as "MAKER,METER,7,1" but as "MAKER,METER,8,1"'


def test_the_first_identity_must_match_its_glob() -> None:
    made = Dialogue(MANNER)
    made.expire(0)
    made.feed(b"hello\n", 1)
    made.expire(made.due)
    assert made.phase is Phase.LOST
    assert made.reason == 'does not answer *IDN? as "*,*,*,*" but as "hello"'
    assert made.stranger == "hello"


def test_without_an_identity_question_step_cannot_be_proven() -> None:
    made = Dialogue(replace(MANNER, identity_question=""))
    made.ask(SECOND)
    made.expire(SECOND)
    drained(made)
    assert made.phase is Phase.LOST


def test_one_that_talks_on_is_given_up() -> None:
    made = in_step()
    made.slip(0)
    now = 0
    while made.phase is Phase.DRAINING:
        now += MANNER.quiet // 2
        if now < made.due:
            made.feed(b"x", now)
        else:
            made.expire(made.due)
    assert made.phase is Phase.LOST
    assert made.reason == "talks on without being asked"
    assert now <= 2 * SECOND


def test_silence_counts_however_late_it_is_noticed() -> None:
    made = in_step()
    made.slip(0)
    assert made.expire(100 * SECOND) == b"*IDN?\n"


def test_one_that_answers_everything_twice_never_gets_into_step() -> None:
    made = Dialogue(MANNER)
    made.expire(0)
    for now in range(10):
        if made.phase is Phase.LOST:
            break
        made.feed(ME + ME, now)
        if made.phase is Phase.DRAINING:
            drained(made)
    assert made.phase is Phase.LOST
    assert made.reason == "answers more than it is asked"


@pytest.mark.parametrize(
    ("end", "coming", "reason"),
    [
        (b"\r", b"ME\r\n", 'answered "ME" with a longer line end than its profile expects'),
        (b"\n", b"ME\r", 'answered "ME" to *IDN? without the line end that its profile expects'),
    ],
)
def test_another_line_end_than_expected_is_the_reason(end: bytes, coming: bytes, reason: str) -> None:
    made = Dialogue(replace(MANNER, reply_end=end, identity_glob="M*"))
    now = 0
    made.expire(now)
    while made.phase is not Phase.LOST:
        made.feed(coming, now)
        now = made.due
        made.expire(now)
        assert now < 100 * SECOND
    assert (made.reason, made.unended) == (reason, "ME")


def test_a_flood_of_late_lines_is_cut_short() -> None:
    made = in_step()
    for now in range(50):
        made.feed(b"x\n" * 50, now)
    assert len(made.collect_late()) == LATE_KEPT


def test_nothing_is_taken_once_it_is_lost() -> None:
    made = in_step()
    made.slip(0)
    drained(made)
    made.expire(made.due)
    assert made.feed(b"+1.0\n", 0) is None
    assert made.expire(0) == b""
    assert made.phase is Phase.LOST


@given(st.lists(st.integers(0, 60), max_size=6), st.floats(-1e6, 1e6))
def test_split_anywhere_the_same_conversation_gives_the_same_reply(cuts: list[int], value: float) -> None:
    made = in_step()
    made.ask(SECOND)
    data = f"{value!r}\r\n".encode()
    places = sorted({0, len(data), *(cut % (len(data) + 1) for cut in cuts)})
    replies = [made.feed(data[a:b], 1) for a, b in itertools.pairwise(places)]
    assert [reply for reply in replies if reply is not None] == [repr(value)]


@given(st.lists(st.tuples(st.binary(max_size=12), st.integers(0, SECOND)), max_size=20))
def test_noise_never_raises_and_never_answers_twice(chunks: list[tuple[bytes, int]]) -> None:
    made = in_step()
    made.ask(SECOND)
    now, replies = 0, 0
    for data, pause in chunks:
        now += pause
        if made.phase not in (Phase.IDLE, Phase.LOST) and now >= made.due:
            made.expire(now)
        replies += made.feed(data, now) is not None
    assert replies <= 1
