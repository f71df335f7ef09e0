"""An asked meter: the right reading under the right question, in slices, whatever the far end does."""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from helpers.fake_wire import FakeWire

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import BadInput, Gone, Refused, TimedOut
from benchlog.instruments.meter import Meter
from benchlog.instruments.profile import Profile, find_profile

SCPI = find_profile("scpi-multimeter")
ME = "MAKER,METER,7,1"
VOLTS, OHMS = Function.VOLTS_DC, Function.OHMS
Replies = list[tuple[float, bytes]]


def healthy(line: str) -> Replies:
    answers = {"*IDN?": f"{ME}\n", "SYST:ERR?": '+0,"No error"\n', "READ?": "+1.5\n"}
    return [(0.01, answers[line].encode())] if line in answers else []


def instead(**other: Replies) -> Callable[[str], Replies]:
    """Healthy but for the reading (`READ`), the error queue (`SYST`) or the identity (`IDN`)."""
    return lambda line: other.get(line.strip("*?").split(":", maxsplit=1)[0], healthy(line))


def on_wire(
    wire: FakeWire, function: Function | None = VOLTS, interval: float = 0.0, profile: Profile = SCPI
) -> Meter:
    return Meter("lamp", wire, profile, function, interval, clock=wire.clock)


def read(meter: Meter, count: int = 1, slices: int = 2000, wait: float = 0.1) -> list[Reading]:
    """The next readings, at most so many slices long."""
    found: list[Reading] = []
    for _ in range(slices):
        found += meter.step(wait)
        if len(found) >= count:
            break
    return found


# --- asking --------------------------------------------------------------------------------------


def test_it_says_who_it_is_is_set_up_and_asked() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire)
    assert meter.identity == ""
    (reading,) = read(meter)
    assert (reading.outcome, reading.value, reading.function, reading.raw) == (Outcome.OK, 1.5, VOLTS, "+1.5")
    assert reading.at == wire.now
    assert meter.identity == ME
    assert wire.lines[:5] == ["*IDN?", "*CLS", "CONF:VOLT:DC", "SYST:ERR?", "READ?"]


def test_at_full_pace_one_question_follows_the_other() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire)
    read(meter)
    begun = wire.now
    assert len(read(meter, 10)) == 10
    assert wire.now - begun == 10 * 10_000_000


def test_an_interval_is_kept_without_drift() -> None:
    wire = FakeWire(healthy)
    read(on_wire(wire, interval=0.25), 5)
    asked = [at for at, line in wire.heard if line == "READ?"]
    assert [round(b - a, 6) for a, b in itertools.pairwise(asked)] == [0.25] * 4


def test_a_meter_slower_than_its_interval_is_asked_at_once_and_not_in_bursts() -> None:
    wire = FakeWire(instead(READ=[(0.6, b"+1\n")]))
    read(on_wire(wire, interval=0.25), 4)
    asked = [at for at, line in wire.heard if line == "READ?"]
    assert [round(b - a, 6) for a, b in itertools.pairwise(asked)] == [0.6] * 3


def test_an_interval_of_the_profile_is_a_lower_bound() -> None:
    slow = replace(SCPI, link=replace(SCPI.link, interval=1.0))
    wire = FakeWire(healthy)
    read(on_wire(wire, interval=0.25, profile=slow), 3)
    asked = [at for at, line in wire.heard if line == "READ?"]
    assert asked[2] - asked[0] == pytest.approx(2.0)


def test_no_slice_is_longer_than_told() -> None:
    wire = FakeWire(instead(READ=[(2.9, b"+1\n")]))
    meter = on_wire(wire, interval=7.0)
    for _ in range(2000):
        before = wire.now
        meter.step(0.05)
        assert wire.now - before <= 50_000_000
    assert wire.longest_wait <= 0.05


def test_a_reply_in_pieces_over_several_slices_is_one_reading() -> None:
    wire = FakeWire(instead(READ=[(0.2, b"+1."), (0.4, b"25E"), (0.6, b"+00\r"), (0.8, b"\n")]))
    (reading,) = read(on_wire(wire))
    assert reading.value == 1.25


def test_settling_is_waited_for_after_a_set_up() -> None:
    slow = replace(SCPI, function={"ohms": replace(SCPI.function["ohms"], settling=1.5)})
    wire = FakeWire(healthy)
    read(on_wire(wire, OHMS, profile=slow), 2)
    at = {line: at for at, line in reversed(wire.heard)}
    assert at["READ?"] - at["SYST:ERR?"] == pytest.approx(1.51)


# --- what goes wrong -----------------------------------------------------------------------------


def test_a_missed_answer_is_missing_and_a_late_one_is_late() -> None:
    replies = iter([[(4.0, b"+666\n")]])
    wire = FakeWire(lambda line: next(replies, healthy(line)) if line == "READ?" else healthy(line))
    missing, late, good = read(on_wire(wire, interval=0.5), 3)
    assert (missing.outcome, missing.value, missing.raw) == (Outcome.MISSING, None, "")
    assert (late.outcome, late.value, late.raw) == (Outcome.LATE, None, "+666")
    assert good.value == 1.5
    assert wire.lines[-3:] == ["READ?", "*IDN?", "READ?"]


def test_half_an_answer_is_missing_with_what_there_was() -> None:
    replies = iter([[(0.1, b"+1.2")]])
    wire = FakeWire(lambda line: next(replies, healthy(line)) if line == "READ?" else healthy(line))
    missing, good = read(on_wire(wire), 2)
    assert (missing.outcome, missing.raw) == (Outcome.MISSING, "+1.2")
    assert good.value == 1.5


def test_two_answers_to_one_question_are_no_reading() -> None:
    replies = iter([[(0.1, b"+666\n+667\n")]])
    wire = FakeWire(lambda line: next(replies, healthy(line)) if line == "READ?" else healthy(line))
    outcomes = [reading.outcome for reading in read(on_wire(wire), 4)]
    assert outcomes == [Outcome.MISSING, Outcome.LATE, Outcome.LATE, Outcome.OK]


def test_what_comes_between_questions_is_late_and_step_is_proven() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire, interval=1.0)
    read(meter)
    wire.say(b"+666\n", 0.5)
    late, good = read(meter, 2)
    assert (late.outcome, late.raw) == (Outcome.LATE, "+666")
    assert good.value == 1.5
    assert wire.lines[-2:] == ["*IDN?", "READ?"]


def test_what_waits_when_a_question_is_due_is_not_its_answer() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire, interval=1.0)
    read(meter)
    wire.say(b"+666\n", 2.0)
    wire.pass_time(5.0)
    late, good = read(meter, 2)
    assert (late.outcome, good.value) == (Outcome.LATE, 1.5)


@pytest.mark.parametrize("garbage", [b"\n", b"abc\n", b"\xff\xfe\n", b"1,2\n"])
def test_garbage_is_malformed_and_step_is_proven(garbage: bytes) -> None:
    replies = iter([[(0.1, garbage)]])
    wire = FakeWire(lambda line: next(replies, healthy(line)) if line == "READ?" else healthy(line))
    malformed, good = read(on_wire(wire, interval=0.5), 2)
    assert (malformed.outcome, malformed.value) == (Outcome.MALFORMED, None)
    assert good.value == 1.5
    assert wire.lines[-3:] == ["READ?", "*IDN?", "READ?"]


def test_overloads_are_readings_and_the_pace_goes_on() -> None:
    wire = FakeWire(instead(READ=[(0.01, b"-9.90000000E+37\n")]))
    readings = read(on_wire(wire), 3)
    assert {(reading.outcome, reading.value, reading.negative) for reading in readings} == {
        (Outcome.OVERLOAD, None, True)
    }


def test_silence_for_good_asks_for_a_new_connection() -> None:
    wire = FakeWire(instead(READ=[]))
    meter = on_wire(wire)
    assert read(meter)[0].outcome is Outcome.MISSING
    wire.script = lambda _: []
    with pytest.raises(Gone) as caught:
        read(meter)
    assert caught.value.place == "lamp"
    assert caught.value.problem == "does not answer *IDN?"


def test_another_instrument_behind_the_same_wire_is_noticed() -> None:
    wire = FakeWire(instead(READ=[]))
    meter = on_wire(wire)
    read(meter)
    wire.script = instead(IDN=[(0.01, b"OTHER,METER,8,1\n")])
    with pytest.raises(Gone) as caught:
        read(meter, 99)
    assert 'but as "OTHER,METER,8,1"' in caught.value.problem


def test_a_dead_wire_is_gone_in_the_same_slice() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire)
    read(meter)
    wire.dead = True
    with pytest.raises(Gone):
        meter.step(0.1)


# --- who is there --------------------------------------------------------------------------------


def test_an_instrument_of_another_kind_is_refused_with_what_it_said() -> None:
    wire = FakeWire(instead(IDN=[(0.01, b"what?\n")]))
    with pytest.raises(Refused) as caught:
        on_wire(wire).prove()
    assert caught.value.problem == 'does not answer *IDN? as "*,*,*,*" but as "what?"'


def test_silence_at_the_start_timed_out() -> None:
    wire = FakeWire(lambda _: [])
    with pytest.raises(TimedOut) as caught:
        on_wire(wire).prove()
    assert caught.value.problem == "does not answer *IDN?"
    assert wire.now - 10_000_000_000 == 3_000_000_000


def test_patience_may_be_shorter_than_the_profiles() -> None:
    wire = FakeWire(lambda _: [])
    with pytest.raises(TimedOut) as caught:
        on_wire(wire).prove(0.5)
    assert caught.value.problem == "did not say what it is within 0.5 s"
    assert wire.now - 10_000_000_000 == 500_000_000


def test_a_banner_before_the_identity_is_no_reading_of_a_walking_meter() -> None:
    wire = FakeWire(instead(IDN=[(0.01, f"welcome\n{ME}\n".encode())]))
    meter = on_wire(wire, None)
    meter.prove()
    assert meter.identity == ME
    assert read(meter, slices=20) == []


# --- set-up --------------------------------------------------------------------------------------


def test_a_refused_set_up_is_told_in_the_instruments_own_words() -> None:
    wire = FakeWire(instead(SYST=[(0.01, b'-113,"Undefined header"\n')]))
    with pytest.raises(Refused) as caught:
        read(on_wire(wire))
    assert caught.value.problem == 'answers -113,"Undefined header" to CONF:VOLT:DC'
    assert wire.lines.count("SYST:ERR?") == 8


def test_errors_from_before_are_read_away_where_nothing_clears_them() -> None:
    assert SCPI.errors is not None
    old = replace(SCPI, errors=replace(SCPI.errors, clear=""))
    answers = iter([b'-350,"Queue overflow"\n', b'0,"No error"\n', b'+0,"No error"\n'])
    wire = FakeWire(lambda line: [(0.01, next(answers))] if line == "SYST:ERR?" else healthy(line))
    (reading,) = read(on_wire(wire, profile=old))
    assert reading.good
    assert wire.lines == ["*IDN?", "SYST:ERR?", "SYST:ERR?", "CONF:VOLT:DC", "SYST:ERR?", "READ?"]


def test_without_an_error_queue_the_set_up_is_sent_and_believed() -> None:
    wire = FakeWire(healthy)
    read(on_wire(wire, profile=replace(SCPI, errors=None)))
    assert wire.lines[:3] == ["*IDN?", "CONF:VOLT:DC", "READ?"]


def test_a_function_without_a_set_up_is_asked_at_once() -> None:
    bare = replace(SCPI, function={"volts_dc": replace(SCPI.function["volts_dc"], set_up=())})
    wire = FakeWire(healthy)
    read(on_wire(wire, profile=bare))
    assert wire.lines[:2] == ["*IDN?", "READ?"]


def test_a_set_up_is_begun_anew_when_its_answer_was_missed() -> None:
    replies: Iterator[Replies] = iter([[]])
    wire = FakeWire(lambda line: next(replies, healthy(line)) if line == "SYST:ERR?" else healthy(line))
    missing, good = read(on_wire(wire), 2)
    assert (missing.outcome, good.value) == (Outcome.MISSING, 1.5)
    assert wire.lines.count("CONF:VOLT:DC") == 2


def test_an_error_queue_that_never_answers_is_named() -> None:
    wire = FakeWire(instead(SYST=[]))
    with pytest.raises(TimedOut) as caught:
        read(on_wire(wire), 10)
    assert caught.value.problem == "did not answer SYST:ERR?"


def test_stray_bytes_during_a_set_up_do_not_end_it() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire)
    meter.prove()
    wire.say(b"boo\n")
    wire.pass_time(1.0)
    late, good = read(meter, 2)
    assert (late.outcome, good.value) == (Outcome.LATE, 1.5)
    assert wire.lines.count("SYST:ERR?") == 1


# --- walking -------------------------------------------------------------------------------------


def test_a_walking_meter_rests_until_it_is_told_what_to_measure() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire, None)
    meter.prove()
    assert read(meter, slices=50) == []
    meter.resume()
    assert read(meter, slices=50) == []
    assert wire.lines == ["*IDN?"]
    meter.configure(OHMS)
    meter.resume()
    assert read(meter)[0].function is OHMS
    assert "CONF:RES" in wire.lines


def test_a_reading_begun_before_a_rest_never_counts_after_it() -> None:
    values = iter(range(100))
    wire = FakeWire(lambda line: [(0.5, b"%d\n" % next(values))] if line == "READ?" else healthy(line))
    meter = on_wire(wire)
    assert [reading.value for reading in read(meter, 2)] == [0.0, 1.0]
    meter.step(0.1)
    meter.pause()
    assert read(meter, slices=50) == []
    meter.resume()
    assert [reading.value for reading in read(meter, 1)] == [3.0]


def test_resumed_within_the_same_answer_it_is_thrown_away_too() -> None:
    values = iter(range(100))
    wire = FakeWire(lambda line: [(0.5, b"%d\n" % next(values))] if line == "READ?" else healthy(line))
    meter = on_wire(wire)
    read(meter)
    meter.step(0.1)
    meter.pause()
    meter.resume()
    assert [reading.value for reading in read(meter, 1)] == [2.0]


def test_a_new_function_throws_the_open_reading_away() -> None:
    values = iter(range(100))
    wire = FakeWire(lambda line: [(0.5, b"%d\n" % next(values))] if line == "READ?" else healthy(line))
    meter = on_wire(wire)
    read(meter)
    meter.step(0.1)
    meter.configure(OHMS)
    (reading,) = read(meter)
    assert (reading.value, reading.function) == (2.0, OHMS)


def test_a_new_function_ends_the_set_up_of_the_old_one() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire)
    meter.prove()
    meter.step(0.0)
    assert wire.lines[-1] == "SYST:ERR?"
    meter.configure(OHMS)
    assert read(meter)[0].function is OHMS
    assert wire.lines[-4:] == ["*CLS", "CONF:RES", "SYST:ERR?", "READ?"]


def test_an_answer_missed_at_rest_is_no_reading() -> None:
    wire = FakeWire(instead(READ=[]))
    meter = on_wire(wire)
    while "READ?" not in wire.lines:
        meter.step(0.1)
    meter.pause()
    assert read(meter, slices=100) == []
    assert wire.lines[-1] == "*IDN?"


def test_what_it_cannot_measure_is_bad_input() -> None:
    with pytest.raises(BadInput) as caught:
        on_wire(FakeWire(healthy), Function.INDUCTANCE)
    assert caught.value.problem == "SCPI multimeter does not measure inductance"


def test_wake_and_close_reach_the_wire() -> None:
    wire = FakeWire(healthy)
    meter = on_wire(wire)
    meter.wake()
    meter.close()
    assert (wire.woken, wire.closed) == (1, True)
