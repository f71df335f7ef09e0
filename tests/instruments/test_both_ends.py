"""Every shipped profile against a far end that shares no code with it."""

import math
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from helpers.device_wire import wire_to
from helpers.fake_wire import FakeWire

from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function, Outcome, Reading, SupplyState
from benchlog.instruments.bench import MeterEntry
from benchlog.instruments.meter import Meter
from benchlog.instruments.opening import sheet_of
from benchlog.instruments.profile import find_profile
from benchlog.instruments.stream import Stream
from benchlog.instruments.supply import SupplyControl
from benchlog.simbench import segments
from benchlog.simbench.handheld import as_segments, display
from benchlog.simbench.lcr import LcrMeter
from benchlog.simbench.multimeter import Multimeter, Pace
from benchlog.simbench.output import Output
from benchlog.simbench.supply import Supply

SCPI = find_profile("scpi-multimeter")
LCR = find_profile("scpi-lcr-meter")
LINES = find_profile("ascii-line-meter")
SEGMENTS = find_profile("segment-handheld")
PACE = Pace(1.0, 0.01)
VOLTS, OHMS, FARADS = Function.VOLTS_DC, Function.OHMS, Function.CAPACITANCE


def meter_on(wire: FakeWire, entry: MeterEntry) -> Meter:
    """A meter as the bench opens it, on that wire."""
    profile = find_profile(entry.profile)
    sheet = sheet_of(replace(entry, null=None), profile).nulled(entry.null, wire.now)
    return Meter(entry.job, wire, profile, entry.function, sheet=sheet, clock=wire.clock)


def read(meter: Meter, count: int) -> list[Reading]:
    found: list[Reading] = []
    for _ in range(20 * count):
        found += meter.step(0.5)
        if len(found) >= count:
            return found
    raise AssertionError(f"{len(found)} readings of {count}")


def entry(profile: str, function: Function, **more: object) -> MeterEntry:
    return MeterEntry(job="m", profile=profile, address="tcp://h:1", function=function, **more)  # type: ignore[arg-type]


def multimeter(shown: dict[str, float]) -> FakeWire:
    return wire_to(Multimeter(lambda name: shown[name], PACE, random.Random(1)))


# --- meters --------------------------------------------------------------------------------------


def test_a_share_of_the_range_needs_the_range_and_it_is_asked_back() -> None:
    shown = {"VOLT:DC": 5.0}
    wire = multimeter(shown)
    meter = meter_on(wire, entry("scpi-multimeter", VOLTS, errors={"volts_dc": "0.002%+0.0005% of range"}))
    first, second, third = read(meter, 3)
    assert first.error is None, "the range was not known yet"
    assert [second.error, third.error] == [pytest.approx(150e-6, rel=1e-3)] * 2
    assert wire.lines.count("VOLT:DC:RANG?") == 1
    shown["VOLT:DC"] = 44.0
    assert [one.error for one in read(meter, 2)] == [None, pytest.approx(44 * 2e-5 + 100 * 5e-6, rel=1e-3)]
    shown["VOLT:DC"] = 5.0
    read(meter, 1)
    assert read(meter, 1)[0].error == pytest.approx(150e-6, rel=1e-3)
    assert wire.lines.count("VOLT:DC:RANG?") == 3


def test_an_error_that_needs_no_range_never_asks_for_it() -> None:
    wire = multimeter({"VOLT:DC": 5.0})
    readings = read(meter_on(wire, entry("scpi-multimeter", VOLTS, error="0.1%")), 3)
    assert [one.error for one in readings] == [pytest.approx(0.005, rel=1e-3)] * 3
    assert not any("RANG" in line for line in wire.lines)


def test_where_nobody_has_said_the_error_is_unknown() -> None:
    wire = multimeter({"VOLT:DC": 5.0})
    assert [one.error for one in read(meter_on(wire, entry("scpi-multimeter", VOLTS)), 2)] == [None, None]


def test_a_range_of_the_bench_is_selected_and_never_asked_back() -> None:
    wire = multimeter({"VOLT:DC": 5.0})
    error = {"volts_dc": "0.002%+0.0005% of range"}
    meter = meter_on(wire, entry("scpi-multimeter", VOLTS, errors=error, range=100.0))
    assert read(meter, 1)[0].error == pytest.approx(5 * 2e-5 + 100 * 5e-6, rel=1e-3)
    assert "VOLT:DC:RANG 100" in wire.lines
    assert "VOLT:DC:RANG?" not in wire.lines
    meter.configure(Function.OHMS)
    assert not any("RES:RANG" in line for line in wire.lines)


def test_a_meter_that_does_not_tell_its_range_reads_on() -> None:
    far = multimeter({"VOLT:DC": 5.0})
    wire = FakeWire(lambda line: [] if line.endswith("RANG?") else far.script(line))
    meter = meter_on(wire, entry("scpi-multimeter", VOLTS, error="0.1%+0.1% of range"))
    readings = [one for one in read(meter, 6) if one.outcome is Outcome.OK]
    assert len(readings) >= 4
    assert all(one.error is None for one in readings)
    assert wire.lines.count("VOLT:DC:RANG?") == 1


def test_leads_are_taken_off_two_wire_ohms_within_the_hour() -> None:
    now = datetime.now(UTC)
    shown = {"RES": 0.34, "FRES": 0.22, "VOLT:DC": 1.0}
    for age, off in ((timedelta(minutes=5), 0.12), (timedelta(hours=2), None), (timedelta(hours=-1), None)):
        null = LeadNull(value=0.12, time=now - age)
        wire = multimeter(shown)
        meter = meter_on(wire, entry("scpi-multimeter", OHMS, null=null, error="1%"))
        (reading,) = read(meter, 1)
        assert reading.nulled == off
        assert reading.value == pytest.approx(0.34 - (off or 0.0), abs=2e-3)
        assert reading.error == pytest.approx(0.0034, rel=0.01), "the meter saw the leads too"
        meter.configure(Function.OHMS_4W)
        assert read(meter, 1)[0].nulled is None


def test_a_null_ends_while_the_meter_is_open() -> None:
    null = LeadNull(value=0.12, time=datetime.now(UTC) - timedelta(minutes=59))
    wire = multimeter({"RES": 10.0})
    meter = meter_on(wire, entry("scpi-multimeter", OHMS, null=null))
    assert read(meter, 1)[0].nulled == 0.12
    wire.pass_time(120.0)
    assert read(meter, 1)[0].nulled is None


@pytest.mark.parametrize("hertz", [None, 120.0])
def test_a_capacitance_comes_with_its_d_and_the_hertz(hertz: float | None) -> None:
    far = LcrMeter(lambda _: 1000e-6, lambda: 0.05, PACE, random.Random(1))
    meter = meter_on(wire_to(far), entry("scpi-lcr-meter", FARADS, test_frequency=hertz))
    (reading,) = read(meter, 1)
    beside = dict(reading.beside)
    assert reading.value == pytest.approx(1000e-6, rel=2e-3)
    assert far.hertz == beside["frequency"] == (hertz or 1000.0)
    assert beside["dissipation"] == pytest.approx(2 * math.pi * far.hertz * 1000e-6 * 0.05, rel=2e-3)


def test_what_an_lcr_meter_cannot_measure_is_an_overload_and_never_a_number() -> None:
    far = LcrMeter(lambda _: math.inf, lambda: 0.0, PACE, random.Random(1))
    (reading,) = read(meter_on(wire_to(far), entry("scpi-lcr-meter", FARADS)), 1)
    assert (reading.outcome, reading.value, reading.beside) == (Outcome.OVERLOAD, None, ())


def test_a_meter_that_answers_a_line_says_what_it_measured() -> None:
    wire = FakeWire(
        lambda line: [(0.1, f"{display(230.08, 'V AC')}\r\n".encode())] if line == "READ\r" else []
    )
    (reading,) = read(meter_on(wire, entry("ascii-line-meter", VOLTS)), 1)
    assert (reading.value, reading.function, reading.resolution) == (230.1, Function.VOLTS_AC, 0.1)


# --- frames of segments --------------------------------------------------------------------------


def shown(data: bytes) -> list[Reading]:
    return Stream(SEGMENTS, None, 0).feed(data, 1)


@pytest.mark.parametrize(
    ("number", "lamps", "value", "function", "resolution"),
    [
        ("-012.34", ("m", "V", "DC"), -0.01234, VOLTS, 1e-5),
        ("230.08", ("V", "AC"), 230.08, Function.VOLTS_AC, 0.01),
        ("4.6870", ("k", "ohm"), 4687.0, OHMS, 0.1),
        ("0", ("ohm",), 0.0, OHMS, 1.0),
        ("98765", ("n", "F"), 98.765e-6, FARADS, 1e-9),
    ],
)
def test_a_display_is_read_segment_by_segment(
    number: str, lamps: tuple[str, ...], value: float, function: Function, resolution: float
) -> None:
    (reading,) = shown(segments.frame(number, lamps))
    assert (reading.outcome, reading.function) == (Outcome.OK, function)
    assert reading.value == pytest.approx(value, rel=1e-12)
    assert reading.resolution == pytest.approx(resolution)


def test_a_display_beyond_its_range_is_an_overload() -> None:
    (reading,) = shown(segments.frame("-0.L", ("M", "ohm", "HOLD")))
    assert (reading.outcome, reading.negative, reading.flags) == (Outcome.OVERLOAD, True, ("hold",))
    assert reading.function is OHMS


def test_what_a_far_end_draws_is_what_is_read() -> None:
    data, text = as_segments(-38.904, "VOLT:DC")
    (reading,) = shown(data)
    assert (reading.value, reading.raw) == (-38.904, text)


# --- supplies ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "count"), [("scpi-supply-one", 1), ("scpi-supply", 2), ("scpi-supply-three", 3)]
)
def test_a_supply_is_set_switched_read_back_and_cut(name: str, count: int) -> None:
    outputs = [Output(n, lambda *_, **__: None) for n in range(1, count + 1)]
    far = Supply(outputs, 0.01, random.Random(1))
    wire = wire_to(far)
    control = SupplyControl(wire, find_profile(name), clock=wire.clock)
    control.prove()
    for n, output in enumerate(control.outputs, 1):
        assert control.set_volts(output, 5.0 + n) == pytest.approx(5.0 + n)
        assert control.set_limit(output, 0.1 * n) == pytest.approx(0.1 * n)
        assert control.set_protection(output, 20.0 + n) == pytest.approx(20.0 + n)
    assert [one.set_volts for one in outputs] == [6.0, 7.0, 8.0][:count]
    assert [one.protection for one in outputs] == [21.0, 22.0, 23.0][:count]
    control.on()
    assert all(one.on for one in outputs)
    assert not control.all_off()
    assert control.ask_state(control.outputs[-1]) is SupplyState.REGULATING
    control.send_off()
    wire.receive(0.0)
    assert not any(one.on for one in outputs)
    assert control.all_off()
    assert control.refusal() == ""


def test_one_of_three_outputs_is_switched_on_alone() -> None:
    outputs = [Output(n, lambda *_, **__: None) for n in (1, 2, 3)]
    wire = wire_to(Supply(outputs, 0.01, random.Random(1)))
    SupplyControl(wire, find_profile("scpi-supply-three"), clock=wire.clock).on(("2",))
    assert [one.on for one in outputs] == [False, True, False]
