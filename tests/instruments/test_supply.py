"""A supply is set, switched, read back and cut; whatever it answers, nothing is believed unread."""

from dataclasses import replace

import pytest
from helpers.fake_supply import FakeSupply
from helpers.fake_wire import FakeWire

from benchlog.domain.reading import SupplyState
from benchlog.errors import BadInput, Garbled, Gone, Refused, TimedOut
from benchlog.instruments.profile import Profile, find_profile
from benchlog.instruments.supply import SupplyControl, state_of, supply_of

SUPPLY = find_profile("scpi-supply")
COMMANDS = supply_of(SUPPLY, "s")
BARE = replace(
    SUPPLY,
    errors=None,
    supply=replace(
        COMMANDS,
        outputs=("1",),
        set_protection="",
        ask_protection="",
        clear_protection="",
        ask_all="",
        ask_condition="",
        limiting_bits=(),
        protected_bits=(),
    ),
)


@pytest.fixture
def far() -> FakeSupply:
    return FakeSupply()


@pytest.fixture
def wire(far: FakeSupply) -> FakeWire:
    return FakeWire(far)


@pytest.fixture
def control(wire: FakeWire) -> SupplyControl:
    return controlling(wire)


def controlling(wire: FakeWire, profile: Profile = SUPPLY) -> SupplyControl:
    return SupplyControl(wire, profile, "supply", clock=wire.clock)


# --- setting and switching -----------------------------------------------------------------------


def test_it_says_who_it_is(control: SupplyControl) -> None:
    assert control.identity == ""
    control.prove()
    assert control.identity == "MAKER,SUPPLY,0,1"
    assert control.outputs == ("1", "2")


def test_settings_are_sent_checked_and_read_back(
    control: SupplyControl, wire: FakeWire, far: FakeSupply
) -> None:
    assert control.set_limit("2", 0.25) == 0.25
    assert control.set_protection("2", 18.0) == 18.0
    assert control.set_volts("2", 15.0) == 15.0
    assert (far.limits["2"], far.protections["2"], far.volts["2"], far.volts["1"]) == (0.25, 18.0, 15.0, 0.0)
    assert wire.lines[-4:] == ["*CLS", "VOLT 15,(@2)", "SYST:ERR?", "VOLT? (@2)"]


@pytest.mark.parametrize("back", ["+1.50090000E+01", "14.99"])
def test_a_setting_may_be_rounded_by_one_step(control: SupplyControl, far: FakeSupply, back: str) -> None:
    far.instead["VOLT? (@1)"] = back
    assert control.set_volts("1", 15.0) == float(back)


def test_a_setting_not_taken_is_refused_with_both_numbers(control: SupplyControl, far: FakeSupply) -> None:
    far.instead["VOLT? (@1)"] = "12"
    with pytest.raises(Refused) as caught:
        control.set_volts("1", 15.0)
    assert caught.value.problem == "output 1 was told 15 V and holds 12 V"
    far.instead["CURR? (@1)"] = "0.5"
    with pytest.raises(Refused):
        control.set_limit("1", 0.25)


def test_a_command_refused_is_told_in_the_supplys_own_words(control: SupplyControl, far: FakeSupply) -> None:
    far.instead["SYST:ERR?"] = '-222,"Data out of range"'
    with pytest.raises(Refused) as caught:
        control.set_volts("1", 150.0)
    assert caught.value.problem == 'answers -222,"Data out of range" to VOLT 150,(@1)'


@pytest.mark.parametrize("answer", ["abc", "", "9.91E37", "9.9E37", "1,2"])
def test_a_setting_read_back_as_no_number_is_garbled(
    control: SupplyControl, far: FakeSupply, answer: str
) -> None:
    far.instead["VOLT? (@1)"] = answer
    with pytest.raises(Garbled) as caught:
        control.set_volts("1", 15.0)
    assert caught.value.problem == f'answers "{answer}" when asked VOLT? (@1)'


def test_an_output_it_does_not_have(control: SupplyControl) -> None:
    with pytest.raises(BadInput) as caught:
        control.set_volts("3", 15.0)
    assert str(caught.value) == 'supply: has no output "3"; it has 1, 2.'


def test_outputs_are_switched_on_in_one_line_and_read_back(
    control: SupplyControl, wire: FakeWire, far: FakeSupply
) -> None:
    control.on()
    assert far.on == {"1": True, "2": True}
    assert "OUTP ON,(@1,2)" in wire.lines
    control.send_off()
    control.on(("2",))
    assert far.on == {"1": False, "2": True}


def test_an_output_that_does_not_come_on_is_refused(control: SupplyControl, far: FakeSupply) -> None:
    far.instead["OUTP? (@2)"] = "0"
    with pytest.raises(Refused) as caught:
        control.on()
    assert caught.value.problem == "output 2 was switched on and is off"


def test_a_fired_protection_can_be_cleared(control: SupplyControl, far: FakeSupply) -> None:
    far.bits["1"] = 512
    assert control.ask_state("1") is SupplyState.PROTECTED
    control.clear_protection("1")
    assert control.ask_state("1") is SupplyState.OFF


def test_a_supply_without_protection_says_so(wire: FakeWire) -> None:
    control = controlling(wire, BARE)
    with pytest.raises(BadInput):
        control.set_protection("1", 18.0)
    control.clear_protection("1")
    assert wire.lines == []


def test_measured_volts_and_amps(control: SupplyControl, far: FakeSupply) -> None:
    far.volts["1"], far.on["1"] = 15.0, True
    assert (control.ask_volts("1"), control.ask_amps("1")) == (15.0, 0.01)


# --- the cut -------------------------------------------------------------------------------------


def test_the_cut_is_one_whole_line_for_every_output(
    control: SupplyControl, wire: FakeWire, far: FakeSupply
) -> None:
    far.on = {"1": True, "2": True}
    assert control.off_line() == b"OUTP OFF,(@1,2)\n"
    control.send_off()
    assert wire.lines == ["OUTP OFF,(@1,2)"]
    assert control.all_off()


def test_all_is_off_only_when_every_output_says_so(control: SupplyControl, far: FakeSupply) -> None:
    assert control.all_off()
    far.on["2"] = True
    assert not control.all_off()


@pytest.mark.parametrize("answer", ["", "0", "0,0,0", "0,x", "off,off"])
def test_an_unreadable_answer_never_means_off(control: SupplyControl, far: FakeSupply, answer: str) -> None:
    far.instead["OUTP? (@1,2)"] = answer
    with pytest.raises(Garbled):
        control.all_off()


def test_all_is_off_with_one_output(wire: FakeWire, far: FakeSupply) -> None:
    assert controlling(wire, BARE).all_off()
    far.on["1"] = True
    assert not controlling(wire, BARE).all_off()


@pytest.mark.parametrize(
    ("on", "bits", "state"),
    [
        ("0", "0", SupplyState.OFF),
        ("1", "0", SupplyState.REGULATING),
        ("1", "1", SupplyState.LIMITING),
        ("1", "+3", SupplyState.LIMITING),
        ("0", "512", SupplyState.PROTECTED),
        ("1", "513", SupplyState.PROTECTED),
        ("OFF", "2", SupplyState.OFF),
        ("2", "0", None),
        ("", "0", None),
        ("1", "", None),
        ("1", "abc", None),
        ("1", "1.5", None),
        ("1", "-1", None),
        ("0", "9.9E37", None),
    ],
)
def test_the_state_of_an_output(on: str, bits: str, state: SupplyState | None) -> None:
    assert state_of(COMMANDS, on, bits) is state


def test_without_a_condition_only_on_and_off_are_known(wire: FakeWire, far: FakeSupply) -> None:
    control = controlling(wire, BARE)
    assert control.ask_state("1") is SupplyState.OFF
    far.on["1"] = True
    assert control.ask_state("1") is SupplyState.REGULATING


def test_a_state_that_cannot_be_read_is_garbled(control: SupplyControl, far: FakeSupply) -> None:
    far.instead["OUTP? (@1)"] = "maybe"
    with pytest.raises(Garbled) as caught:
        control.ask_state("1")
    assert caught.value.problem == 'answers "maybe 0" when asked the state of output 1'


def test_what_the_error_queue_says(control: SupplyControl, wire: FakeWire, far: FakeSupply) -> None:
    assert control.refusal() == ""
    answers = iter(['-113,"Undefined header"', '-222,"Data out of range"', '0,"No error"'])
    wire.script = lambda line: [(0.0, next(answers).encode() + b"\n")] if line == "SYST:ERR?" else far(line)
    assert control.refusal() == '-113,"Undefined header"; -222,"Data out of range"'
    assert controlling(wire, BARE).refusal() == ""


# --- deadlines -----------------------------------------------------------------------------------


def test_silence_timed_out_and_the_next_question_is_asked_in_step(
    control: SupplyControl, wire: FakeWire, far: FakeSupply
) -> None:
    control.prove()
    wire.script = lambda line: [(1.5, b"+6.66E+02\n")] if line.startswith("MEAS") else far(line)
    with pytest.raises(TimedOut) as caught:
        control.ask_volts("1")
    assert caught.value.problem == "did not answer MEAS:VOLT? (@1) within 1 s"
    wire.script = far
    assert control.ask_amps("1") == 0.01
    assert wire.lines[-2:] == ["*IDN?", "MEAS:CURR? (@1)"]


def test_silence_for_good_is_gone(control: SupplyControl, wire: FakeWire) -> None:
    control.prove()
    wire.script = lambda _: []
    with pytest.raises(TimedOut):
        control.ask_volts("1")
    with pytest.raises(Gone):
        control.ask_volts("1")


def test_stray_bytes_are_no_answer(control: SupplyControl, wire: FakeWire) -> None:
    control.prove()
    wire.say(b"+6.66E+02\n")
    wire.pass_time(1.0)
    assert control.ask_amps("1") == 0.01


def test_a_meters_profile_is_no_supply() -> None:
    with pytest.raises(BadInput) as caught:
        controlling(FakeWire(lambda _: []), find_profile("scpi-multimeter"))
    assert caught.value.problem == "SCPI multimeter is no supply"


def test_wake_and_close_reach_the_wire(control: SupplyControl, wire: FakeWire) -> None:
    control.wake()
    control.close()
    assert (wire.woken, wire.closed) == (1, True)
