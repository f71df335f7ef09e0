"""A supply that is read in rounds: each answer under its own question, the control between slices."""

import itertools
from collections.abc import Callable

import pytest
from helpers.fake_supply import FakeSupply
from helpers.fake_wire import FakeWire

from benchlog.domain.reading import STATES, Function, Outcome, Reading, SupplyState
from benchlog.errors import Gone
from benchlog.instruments.profile import find_profile
from benchlog.instruments.supply_meter import SupplyMeter

SUPPLY = find_profile("scpi-supply")


@pytest.fixture
def far() -> FakeSupply:
    return FakeSupply()


@pytest.fixture
def wire(far: FakeSupply) -> FakeWire:
    return FakeWire(far)


def steps(meter: SupplyMeter, count: int, wait: float = 0.1, slices: int = 2000) -> list[Reading]:
    """The next readings, at most so many slices long."""
    found: list[Reading] = []
    for _ in range(slices):
        found += meter.step(wait)
        if len(found) >= count:
            break
    return found


@pytest.fixture
def meter(wire: FakeWire) -> SupplyMeter:
    return SupplyMeter("supply", wire, SUPPLY, clock=wire.clock)


def only(
    line: str, answer: bytes, far: FakeSupply, after: float = 0.005
) -> Callable[[str], list[tuple[float, bytes]]]:
    """The far end with one answer replaced, the first time it is asked."""
    replies = iter([[(after, answer)] if answer else []])
    return lambda asked: next(replies, far(asked)) if asked == line else far(asked)


def test_a_round_reads_volts_amps_and_state_of_each_output(meter: SupplyMeter, far: FakeSupply) -> None:
    far.volts["2"], far.on["2"], far.bits["2"] = 15.0, True, 1
    readings = steps(meter, 6)
    assert [(reading.channel, reading.function, reading.value) for reading in readings] == [
        ("1", Function.VOLTS_DC, 0.0),
        ("1", Function.AMPS_DC, 0.01),
        ("1", Function.STATE, STATES.index(SupplyState.OFF)),
        ("2", Function.VOLTS_DC, 15.0),
        ("2", Function.AMPS_DC, 0.01),
        ("2", Function.STATE, STATES.index(SupplyState.LIMITING)),
    ]
    assert readings[-1].raw == "1 1"
    assert meter.identity == "MAKER,SUPPLY,0,1"


def test_rounds_begin_at_their_interval(meter: SupplyMeter, wire: FakeWire) -> None:
    steps(meter, 18)
    begun = [at for at, line in wire.heard if line == "MEAS:VOLT? (@1)"]
    assert [round(b - a, 6) for a, b in itertools.pairwise(begun)] == [0.1, 0.1]


def test_a_round_that_takes_longer_is_followed_at_once(wire: FakeWire) -> None:
    meter = SupplyMeter("supply", wire, SUPPLY, 0.01, clock=wire.clock)
    steps(meter, 13)
    begun = [at for at, line in wire.heard if line == "MEAS:VOLT? (@1)"]
    assert [round(b - a, 6) for a, b in itertools.pairwise(begun)] == [0.04, 0.04]


def test_a_missed_answer_costs_one_reading(meter: SupplyMeter, wire: FakeWire, far: FakeSupply) -> None:
    wire.script = only("MEAS:CURR? (@1)", b"", far)
    readings = steps(meter, 3)
    assert [(reading.function, reading.outcome) for reading in readings] == [
        (Function.VOLTS_DC, Outcome.OK),
        (Function.AMPS_DC, Outcome.MISSING),
        (Function.STATE, Outcome.OK),
    ]
    assert readings[1].channel == "1"


def test_a_late_answer_is_never_another_quantitys(
    meter: SupplyMeter, wire: FakeWire, far: FakeSupply
) -> None:
    wire.script = only("MEAS:VOLT? (@1)", b"+6.66E+02\n", far, 1.05)
    readings = steps(meter, 3)
    assert [(reading.function, reading.outcome, reading.value) for reading in readings] == [
        (Function.VOLTS_DC, Outcome.MISSING, None),
        (Function.AMPS_DC, Outcome.LATE, None),
        (Function.AMPS_DC, Outcome.OK, 0.01),
    ]


@pytest.mark.parametrize("answer", [b"abc\n", b"\n"])
def test_an_unreadable_answer_is_malformed_and_step_is_proven(
    meter: SupplyMeter, wire: FakeWire, far: FakeSupply, answer: bytes
) -> None:
    for line in ("MEAS:VOLT? (@1)", "OUTP? (@1)"):
        wire.script = only(line, answer, far)
        readings = steps(meter, 6)
        assert [reading.outcome for reading in readings].count(Outcome.MALFORMED) == 1
        assert "*IDN?" in wire.lines[1:]


def test_the_control_may_be_used_between_slices(meter: SupplyMeter, wire: FakeWire, far: FakeSupply) -> None:
    meter.prove()
    for _ in range(3):
        meter.step(0.0)
        meter.control.set_volts("1", 12.0)
    readings = steps(meter, 6)
    assert {reading.outcome for reading in readings} == {Outcome.OK}
    assert [reading.function for reading in readings[:3]] == [
        Function.VOLTS_DC,
        Function.AMPS_DC,
        Function.STATE,
    ]
    assert far.volts["1"] == 12.0


def test_the_control_used_between_the_two_questions_of_a_state(meter: SupplyMeter, wire: FakeWire) -> None:
    steps(meter, 2)
    while wire.lines[-1] != "STAT:QUES:INST:ISUM1:COND?":
        meter.step(0.0)
        wire.pass_time(0.001)
    meter.control.set_limit("1", 0.2)
    (reading,) = steps(meter, 1)
    assert (reading.function, reading.outcome, reading.raw) == (Function.STATE, Outcome.OK, "0 0")


def test_no_slice_is_longer_than_told(meter: SupplyMeter, wire: FakeWire) -> None:
    for _ in range(500):
        before = wire.now
        meter.step(0.05)
        assert wire.now - before <= 50_000_000


def test_a_supply_that_is_gone_is_gone(meter: SupplyMeter, wire: FakeWire) -> None:
    steps(meter, 3)
    wire.dead = True
    with pytest.raises(Gone):
        steps(meter, 99)
    meter.wake()
    meter.close()
    assert (wire.woken, wire.closed) == (1, True)


def test_the_cut_goes_out_between_a_question_and_its_answer(wire: FakeWire, far: FakeSupply) -> None:
    meter = SupplyMeter("supply", wire, SUPPLY, clock=wire.clock)
    meter.prove()
    far.on = {"1": True, "2": True}
    meter.step(0.0)
    meter.control.send_off()
    assert wire.lines[-2:] == ["MEAS:VOLT? (@1)", "OUTP OFF,(@1,2)"]
    assert [reading.function for reading in steps(meter, 1)] == [Function.VOLTS_DC]
    assert meter.control.all_off()
