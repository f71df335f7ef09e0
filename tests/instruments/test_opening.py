"""From an entry of a bench to an instrument that answers, or one plain sentence why it does not."""

import socket
import threading
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest
from helpers.fake_wire import FakeWire
from helpers.far_end import FarEnd, far_end, multimeter
from helpers.far_port import FarPort, far_port

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import BadInput, Gone, LinkError, Refused, TimedOut
from benchlog.instruments.address import SerialAddress
from benchlog.instruments.bench import MeterEntry, SupplyEntry
from benchlog.instruments.meter import Instrument, Meter
from benchlog.instruments.opening import open_control, open_lines, open_meter, open_supply
from benchlog.instruments.profile import find_profile
from benchlog.instruments.stream_meter import StreamMeter

SCPI = find_profile("scpi-multimeter")
SUPPLY = find_profile("scpi-supply")
HANDHELD = find_profile("ascii-handheld")
LINE = b"+023.41 V AC\r\n"


@pytest.fixture
def far() -> Iterator[FarEnd]:
    with far_end(multimeter()) as made:
        yield made


@pytest.fixture
def port() -> Iterator[FarPort]:
    with far_port() as made:
        yield made


def read(instrument: Instrument, count: int) -> list[Reading]:
    """The next readings; a generous number of slices long."""
    found: list[Reading] = []
    end = time.monotonic() + 30.0
    while len(found) < count and time.monotonic() < end:
        found += instrument.step(0.1)
    return found


def closed_at_far_end(far: FarEnd) -> bool:
    """Whether the far end sees its one connection closed."""
    far.connected.acquire()
    with socket.create_connection(("127.0.0.1", far.port)):
        # It serves one at a time, so this one is served only when the first was let go.
        return far.connected.acquire(timeout=30.0)


# --- asked ---------------------------------------------------------------------------------------


def test_a_meter_on_a_network(far: FarEnd) -> None:
    entry = MeterEntry(job="lamp", profile="-", address=far.address, function=Function.VOLTS_AC)
    meter = open_meter(entry, SCPI)
    assert (meter.job, meter.identity) == ("lamp", "FAR END,METER,0,1")
    (reading,) = read(meter, 1)
    assert (reading.value, reading.function) == (1.25, Function.VOLTS_AC)
    meter.close()


def test_a_meter_on_a_serial_port_starts_without_what_was_left_there(port: FarPort) -> None:
    def answer() -> None:
        heard = b""
        while b"READ?" not in heard:
            heard = port.hear()
            if b"*IDN?" in heard:
                port.say(b"MAKER,METER,0,1\n")
            if b"SYST:ERR?" in heard:
                port.say(b'0,"No error"\n')
        port.say(b"+1.5\n")

    port.say(b"+6.66E+02\n+6")
    answering = threading.Thread(target=answer)
    answering.start()
    entry = MeterEntry(job="lamp", profile="-", address=port.device, function=Function.VOLTS_AC)
    meter = open_meter(entry, SCPI)
    (reading,) = read(meter, 1)
    answering.join()
    assert (meter.identity, reading.value) == ("MAKER,METER,0,1", 1.5)
    meter.close()


def test_the_rate_of_plan_time_divides_intervals(monkeypatch: pytest.MonkeyPatch, far: FarEnd) -> None:
    told: list[float] = []
    begin = Meter.__init__

    def watch(
        self: Meter,
        job: str,
        link: object,
        profile: object,
        function: object,
        interval: float,
        **more: object,
    ) -> None:
        told.append(interval)
        begin(self, job, link, profile, function, interval, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Meter, "__init__", watch)
    entry = MeterEntry(job="lamp", profile="-", address=far.address, function=Function.VOLTS_AC, interval=0.5)
    open_meter(entry, SCPI, 10.0).close()
    assert told == [0.05]


def test_the_wrong_instrument_is_refused_and_let_go(far: FarEnd) -> None:
    far.answer = lambda _: b"hello\n"
    quick = replace(SCPI, link=replace(SCPI.link, deadline=0.1))
    with pytest.raises(Refused) as caught:
        open_meter(MeterEntry(job="lamp", profile="-", address=far.address), quick)
    assert caught.value.place == "lamp"
    assert closed_at_far_end(far)


def test_an_instrument_that_says_nothing_timed_out(far: FarEnd) -> None:
    far.answer = lambda _: None
    with pytest.raises(TimedOut):
        open_meter(MeterEntry(job="lamp", profile="-", address=far.address), SCPI, patience=0.1)
    with pytest.raises(TimedOut):
        open_supply(SupplyEntry(job="s", profile="-", address=far.address), SUPPLY, patience=0.1)
    with pytest.raises(TimedOut):
        open_control(SupplyEntry(job="s", profile="-", address=far.address), SUPPLY, patience=0.1)


def test_a_supply_has_a_connection_to_read_and_one_for_the_cut(far: FarEnd) -> None:
    answers = {"*IDN?": b"M,S,0,1\n", "OUTP? (@1,2)": b"0,0\n", "OUTP? (@1)": b"0\n"}
    far.answer = lambda line: answers.get(line, b"0\n") if "?" in line else None
    with far_end(far.answer) as cut:
        entry = SupplyEntry(job="s", profile="-", address=far.address, cut_address=cut.address)
        meter, control = open_supply(entry, SUPPLY), open_control(entry, SUPPLY)
        assert {reading.channel for reading in read(meter, 6)} == {"1", "2"}
        control.send_off()
        assert control.all_off()
        assert cut.heard == ["*IDN?", "OUTP OFF,(@1,2)", "OUTP? (@1,2)"]
        meter.close()
        control.close()


def test_a_relays_line_is_a_plain_link(port: FarPort) -> None:
    link = open_lines(SerialAddress("", port.device), "mains relay", frozenset())
    link.send(b"\x55")
    assert port.hear() == b"\x55"
    link.close()


# --- free-running --------------------------------------------------------------------------------


def test_a_handheld_on_a_serial_port(port: FarPort) -> None:
    entry = MeterEntry(job="mains", profile="-", address=port.device, function=Function.VOLTS_AC)
    meter = open_meter(entry, HANDHELD)
    assert isinstance(meter, StreamMeter)
    assert meter.identity == HANDHELD.name
    port.say(b"41 V AC\r\n" + LINE + b"-OL V AC\r\n")
    good, over = read(meter, 2)
    assert (good.value, over.outcome, over.negative) == (23.41, Outcome.OVERLOAD, True)
    port.unplug()
    with pytest.raises(Gone):
        read(meter, 1)
    meter.close()


def test_a_handheld_behind_a_socket(far: FarEnd) -> None:
    entry = MeterEntry(
        job="mains", profile="-", address=f"socket://127.0.0.1:{far.port}", function=Function.VOLTS_AC
    )
    meter = open_meter(entry, HANDHELD)
    far.connected.acquire()
    far.say(LINE + LINE)
    (reading,) = read(meter, 1)
    assert reading.value == 23.41
    far.hang_up()
    with pytest.raises(LinkError):
        read(meter, 1)
    meter.close()


def streaming(function: Function | None = Function.VOLTS_AC) -> tuple[StreamMeter, FakeWire]:
    wire = FakeWire(lambda _: [])
    return StreamMeter("mains", wire, HANDHELD, function, clock=wire.clock), wire


def test_silence_is_told_each_deadline() -> None:
    meter, wire = streaming()
    readings = [reading for _ in range(100) for reading in meter.step(0.1)]
    assert [(reading.outcome, reading.function) for reading in readings] == [
        (Outcome.MISSING, Function.VOLTS_AC)
    ] * 3
    assert wire.longest_wait <= 0.1


def test_a_walking_handheld_rests_and_begins_with_a_fresh_line() -> None:
    meter, wire = streaming(None)
    wire.say(b"x\r\n" + LINE)
    assert meter.step(0.1) == []
    meter.configure(Function.OHMS)
    assert meter.function is Function.OHMS
    wire.say(b"1.000 kohm\r\n2.0")
    meter.resume()
    wire.say(b"00 kohm\r\n3.000 kohm\r\n")
    (reading,) = meter.step(0.1)
    assert reading.value == 3000.0
    meter.pause()
    wire.say(b"4.000 kohm\r\n")
    assert meter.step(0.1) == []


def test_a_rest_ends_even_where_the_instrument_never_does() -> None:
    meter, wire = streaming()
    for _ in range(1000):
        wire.say(LINE)
    meter.resume()
    assert meter.step(0.1) == []
    assert meter.step(0.1)


def test_what_a_handheld_cannot_measure_is_bad_input() -> None:
    meter, wire = streaming()
    with pytest.raises(BadInput):
        meter.configure(Function.INDUCTANCE)
    meter.wake()
    meter.close()
    assert (wire.woken, wire.closed) == (1, True)
