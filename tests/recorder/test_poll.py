"""One thread owns each instrument: it opens again what is gone, shows that it lives, and fails nobody silently."""

import threading
from collections.abc import Callable, Iterator

import pytest
from helpers.far_end import far_end, multimeter
from helpers.stand_ins import Instrument, volts
from helpers.until import until

from benchlog.domain.reading import Function, Reading
from benchlog.errors import BadInput, Gone, LinkError, Refused, TimedOut
from benchlog.instruments import bench as benches
from benchlog.instruments.meter import Meter
from benchlog.instruments.opening import open_meter
from benchlog.instruments.profile import find_profile
from benchlog.instruments.stream_meter import StreamMeter
from benchlog.recorder import poll
from benchlog.recorder.poll import Poller

UNPLUGGED = Gone("lamp", "is unplugged", "plug it in")
SHUT = Refused("lamp", "nobody listens", "switch it on")


class Bench:
    """What a poller opens, one thing after the other; the last for ever."""

    def __init__(self) -> None:
        self.opens: list[Instrument | LinkError] = []
        self.tries = 0
        self.readings: list[tuple[str, float | None]] = []
        self.states: list[tuple[str, str]] = []
        self.may_open = threading.Event()
        self.may_open.set()
        self._pollers: list[Poller[Instrument]] = []

    def poller(self, *opens: Instrument | LinkError) -> Poller[Instrument]:
        self.opens = list(opens)
        made: Poller[Instrument] = Poller("lamp", self._open, self._reading, self._state)
        self._pollers.append(made)
        return made

    def close(self) -> None:
        self.may_open.set()
        for poller in self._pollers:
            poller.stop()
            assert not poller._thread.is_alive()

    def _open(self) -> Instrument:
        self.may_open.wait(30.0)
        self.tries += 1
        found = self.opens.pop(0) if len(self.opens) > 1 else self.opens[0]
        if isinstance(found, LinkError):
            raise found
        return found

    def _reading(self, job: str, reading: Reading) -> None:
        self.readings.append((job, reading.value))

    def _state(self, job: str, state: str, text: str) -> None:
        self.states.append((state, text))


@pytest.fixture
def bench() -> Iterator[Bench]:
    made = Bench()
    yield made
    made.close()


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Open again without much delay."""
    monkeypatch.setattr(poll, "FIRST_RETRY", 0.01)
    monkeypatch.setattr(poll, "LONGEST_RETRY", 0.04)


# --- reading --------------------------------------------------------------------------------------


def test_it_opens_the_instrument_and_hands_on_its_readings_from_one_thread(bench: Bench) -> None:
    meter = Instrument(identity="MAKER,MODEL,7")
    poller = bench.poller(meter)
    assert poller.wait_open(30.0) == ["open", "MAKER,MODEL,7"]
    for value in (1.0, 2.0, 3.0):
        meter.says.put(volts(value))
    until(lambda: bench.readings == [("lamp", 1.0), ("lamp", 2.0), ("lamp", 3.0)], "the readings")
    assert bench.states == [("open", "MAKER,MODEL,7")]
    assert len(meter.threads) == 1


def test_a_silent_meter_shows_that_its_thread_is_alive(bench: Bench) -> None:
    meter = Instrument()
    poller = bench.poller(meter)
    poller.wait_open(30.0)
    for _ in range(3):
        before = poller.checked_in
        until(lambda before=before: poller.checked_in > before, "a sign of life")  # type: ignore[misc]


def test_a_thread_that_hangs_shows_no_life(bench: Bench) -> None:
    meter = Instrument()
    poller = bench.poller(meter)
    poller.wait_open(30.0)
    meter.hangs.set()
    steps = meter.steps
    until(lambda: meter.steps > steps, "the step that hangs")
    until(lambda: poller.quiet_for > 0.3, "its silence")
    meter.hangs.clear()
    meter.goes_on.set()
    until(lambda: poller.quiet_for < 0.3, "its life")


def test_opening_that_takes_longer_than_it_may_shows_no_life(bench: Bench) -> None:
    bench.may_open.clear()
    bench.opens = [Instrument()]
    poller: Poller[Instrument] = Poller(
        "lamp", bench._open, bench._reading, bench._state, allowed=(0.05, 0.05)
    )
    bench._pollers.append(poller)
    until(lambda: poller.quiet_for > 0.2, "its silence")
    bench.may_open.set()
    until(lambda: poller.quiet_for < 0.2, "its life")


def test_what_was_open_once_is_opened_again_in_less_time(bench: Bench, quick: None) -> None:
    again: list[Instrument] = []

    def reopen() -> Instrument:
        bench.may_open.wait(30.0)
        again.append(Instrument())
        return again[-1]

    first = Instrument()
    bench.opens = [SHUT, first]
    poller: Poller[Instrument] = Poller(
        "lamp", bench._open, bench._reading, bench._state, reopen, (30.0, 0.05)
    )
    bench._pollers.append(poller)
    until(lambda: poller.state == "open", "it")
    bench.may_open.clear()
    first.says.put(UNPLUGGED)
    until(lambda: poller.quiet_for > 0.2, "its silence")
    bench.may_open.set()
    until(lambda: poller.state == "open", "it again")
    assert (bench.tries, len(again)) == (2, 1)


def test_what_does_not_open_in_a_hurry_is_given_its_time_again(bench: Bench, quick: None) -> None:
    tries: list[int] = []

    def reopen() -> Instrument:
        tries.append(1)
        raise SHUT

    first = Instrument()
    bench.opens = [first, Instrument()]
    poller: Poller[Instrument] = Poller("lamp", bench._open, bench._reading, bench._state, reopen)
    bench._pollers.append(poller)
    until(lambda: poller.state == "open", "it")
    first.says.put(UNPLUGGED)
    until(lambda: bench.tries == 2, "a patient try")
    until(lambda: poller.state == "open", "it again")
    assert len(tries) == poll.HURRIES


def test_an_instrument_that_is_not_open_hangs_nobody(bench: Bench) -> None:
    bench.may_open.clear()
    poller = bench.poller(Instrument())
    assert poller.quiet_for == 0.0
    assert poller.wait_open(0.001) == ["opening", ""]


# --- gone and back --------------------------------------------------------------------------------


def test_what_nobody_answers_at_is_refused_and_tried_again_until_it_answers(
    bench: Bench, quick: None
) -> None:
    poller = bench.poller(SHUT, SHUT, SHUT, Instrument())
    assert poller.wait_open(30.0) == ["refused", "nobody listens"]
    until(lambda: poller.state == "open", "its opening")
    assert bench.states == [("refused", "nobody listens"), ("open", "a meter")]


def test_an_unplugged_instrument_is_gone_and_opened_again(bench: Bench, quick: None) -> None:
    first, second = Instrument(), Instrument(identity="the same again")
    poller = bench.poller(first, SHUT, SHUT, second)
    poller.wait_open(30.0)
    first.says.put(volts(1.0))
    first.says.put(UNPLUGGED)
    until(lambda: poller.text == "the same again", "its return")
    assert first.closed == 1
    # A refusal after it was open is no other state: it stays gone.
    assert [state for state, _ in bench.states] == ["open", "gone", "gone", "open"]
    second.says.put(volts(2.0))
    until(lambda: bench.readings == [("lamp", 1.0), ("lamp", 2.0)], "its reading")


def test_a_state_is_told_once_however_often_it_is_tried(bench: Bench, quick: None) -> None:
    bench.poller(SHUT)
    until(lambda: bench.tries > 6, "several tries")
    assert bench.states == [("refused", "nobody listens")]


def test_an_instrument_that_opens_and_dies_at_once_is_not_opened_without_pause(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(poll, "LONGEST_RETRY", 3600.0)

    def dying() -> Instrument:
        meter = Instrument()
        meter.says.put(UNPLUGGED)
        return meter

    poller = bench.poller(dying(), dying(), dying(), Instrument())
    until(lambda: bench.tries == 3, "three lives")
    pauses = [poller._pause]
    until(lambda: bench.tries == 4, "the fourth")
    pauses.append(poller._pause)
    assert pauses[0] >= 2 * poll.FIRST_RETRY
    assert pauses[1] == 8 * poll.FIRST_RETRY


def test_a_reading_makes_up_for_earlier_failures(bench: Bench, quick: None) -> None:
    meter = Instrument()
    poller = bench.poller(SHUT, SHUT, meter)
    until(lambda: poller.state == "open", "its opening")
    assert poller._pause > poll.FIRST_RETRY
    meter.says.put(volts(1.0))
    until(lambda: poller._pause == poll.FIRST_RETRY, "the short pause")


def test_the_pause_grows_to_its_longest(bench: Bench, quick: None) -> None:
    poller = bench.poller(SHUT)
    until(lambda: bench.tries > 4, "several tries")
    assert poller._pause == poll.LONGEST_RETRY


def test_what_is_plugged_in_again_is_opened_without_waiting_out_the_pause(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(poll, "FIRST_RETRY", 3600.0)
    back = threading.Event()
    bench.opens = [UNPLUGGED, Instrument()]
    poller: Poller[Instrument] = Poller(
        "lamp", bench._open, bench._reading, bench._state, returned=back.is_set
    )
    bench._pollers.append(poller)
    until(lambda: poller.state == "refused", "the refusal")
    back.set()
    until(lambda: poller.state == "open", "its opening")


# --- jobs -----------------------------------------------------------------------------------------


def test_a_job_is_done_in_the_instruments_own_thread(bench: Bench) -> None:
    meter = Instrument()
    poller = bench.poller(meter)
    poller.wait_open(30.0)
    told: list[str] = []
    who = poller.do(lambda _: threading.get_ident(), told.append).result(30.0)
    until(lambda: told == [""], "its end")
    assert {who} == meter.threads
    assert who != threading.get_ident()


def test_a_job_waits_for_an_instrument_that_is_being_opened(bench: Bench) -> None:
    bench.may_open.clear()
    poller = bench.poller(Instrument(identity="late"))
    done = poller.do(lambda instrument: instrument.identity)
    assert not done.done()
    bench.may_open.set()
    assert done.result(30.0) == "late"


def test_a_job_fails_with_the_instrument_that_is_refused(bench: Bench) -> None:
    bench.may_open.clear()
    poller = bench.poller(SHUT)
    told: list[str] = []
    waiting = poller.do(lambda _: None, told.append)
    bench.may_open.set()
    with pytest.raises(Refused, match="nobody listens"):
        waiting.result(30.0)
    until(lambda: told == [str(SHUT)], "the sentence")


def test_a_job_for_an_instrument_that_is_gone_fails_at_once(bench: Bench, quick: None) -> None:
    poller = bench.poller(SHUT)
    poller.wait_open(30.0)
    with pytest.raises(Gone, match="nobody listens"):
        poller.do(lambda _: None).result(0)


def test_jobs_fail_with_an_instrument_that_is_lost_before_their_turn(bench: Bench) -> None:
    meter = Instrument()
    poller = bench.poller(meter)
    poller.wait_open(30.0)
    meter.hangs.set()
    steps = meter.steps
    until(lambda: meter.steps > steps, "the step that hangs")
    waiting = [poller.do(lambda _: None) for _ in range(3)]
    meter.says = type(meter.says)()
    meter.says.put(UNPLUGGED)
    meter.goes_on.set()
    for one in waiting:
        with pytest.raises(Gone, match="is unplugged"):
            one.result(30.0)


def _raising(error: Exception) -> Callable[[Instrument], None]:
    def raise_it(_: Instrument) -> None:
        raise error

    return raise_it


@pytest.mark.parametrize("error", [BadInput("lamp", "cannot"), TimedOut("lamp", "was late"), SHUT])
def test_a_job_that_cannot_be_done_is_its_askers_matter_alone(bench: Bench, error: LinkError) -> None:
    meter = Instrument()
    poller = bench.poller(meter)
    poller.wait_open(30.0)
    told: list[str] = []
    with pytest.raises(type(error)):
        poller.do(_raising(error), told.append).result(30.0)
    until(lambda: told == [str(error)], "the sentence")
    meter.says.put(volts(3.0))
    until(lambda: bench.readings == [("lamp", 3.0)], "the next reading")
    assert meter.closed == 0


def test_a_job_that_finds_the_wire_gone_has_it_opened_again(bench: Bench, quick: None) -> None:
    first = Instrument()
    poller = bench.poller(first, Instrument(identity="again"))
    poller.wait_open(30.0)
    with pytest.raises(Gone):
        poller.do(_raising(UNPLUGGED)).result(30.0)
    until(lambda: poller.text == "again", "its return")
    assert first.closed == 1


def test_a_job_nobody_waits_for_any_more_is_not_done(bench: Bench) -> None:
    bench.may_open.clear()
    poller = bench.poller(Instrument())
    done: list[str] = []
    waiting = poller.do(lambda _: done.append("late"))
    assert waiting.cancel()
    following = poller.do(lambda _: done.append("following"))
    bench.may_open.set()
    following.result(30.0)
    assert done == ["following"]


def test_a_job_nobody_waits_for_may_also_fail(bench: Bench) -> None:
    bench.may_open.clear()
    poller = bench.poller(SHUT)
    waiting = poller.do(lambda _: None)
    assert waiting.cancel()
    bench.may_open.set()
    assert poller.wait_open(30.0) == ["refused", "nobody listens"]
    assert waiting.cancelled()


def test_jobs_from_many_threads_are_each_done_or_failed(bench: Bench, quick: None) -> None:
    meters = [Instrument() for _ in range(40)]
    poller = bench.poller(*meters, Instrument())
    ends: list[str] = []

    def ask() -> None:
        for _ in range(100):
            poller.do(lambda _: None, ends.append)

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for meter in meters:
        meter.says.put(UNPLUGGED)
    for thread in threads:
        thread.join()
    until(lambda: len(ends) == 400, "an end for every job")


# --- the end --------------------------------------------------------------------------------------


def test_stopping_closes_the_instrument_and_fails_what_waits(bench: Bench) -> None:
    meter = Instrument()
    poller = bench.poller(meter)
    poller.wait_open(30.0)
    poller.stop()
    assert meter.closed == 1
    with pytest.raises(Gone):
        poller.do(lambda _: None).result(0)


def test_an_instrument_that_opens_too_late_is_closed_without_a_word(bench: Bench) -> None:
    bench.may_open.clear()
    meter = Instrument()
    poller = bench.poller(meter)
    waiting = poller.do(lambda _: None)
    poller.stop(wait=0.0)
    bench.may_open.set()
    until(lambda: meter.closed == 1, "its end")
    assert bench.states == []
    with pytest.raises(Gone, match="was let go"):
        waiting.result(30.0)


def test_a_pause_ends_with_its_poller(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(poll, "FIRST_RETRY", 3600.0)
    poller = bench.poller(SHUT)
    poller.wait_open(30.0)
    poller.stop(wait=30.0)
    assert not poller._thread.is_alive()


def test_a_real_meter_over_a_socket_is_read_lost_and_read_again(quick: None) -> None:
    readings: list[float | None] = []
    states: list[str] = []
    profile = find_profile("scpi-multimeter", [])
    with far_end(multimeter()) as far:
        there = benches.MeterEntry(
            job="lamp",
            profile="scpi-multimeter",
            address=far.address,
            function=Function.VOLTS_DC,
            interval=0.01,
        )
        poller: Poller[Meter | StreamMeter] = Poller(
            "lamp",
            lambda: open_meter(there, profile),
            lambda _, reading: readings.append(reading.value),
            lambda _, state, __: states.append(state),
        )
        try:
            until(lambda: len(readings) > 3, "the first readings")
            far.hang_up()
            until(lambda: states.count("open") == 2, "the new connection")
            far.answer = multimeter(b"+7.50000000E+00\n")
            until(lambda: readings[-1] == 7.5, "its readings")
        finally:
            poller.stop()
    assert states[:3] == ["open", "gone", "open"]
