"""SCPI at the far end: spellings, compound lines, the error queue and the status bits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.simbench.scpi import (
    OUT_OF_RANGE,
    QUEUE_LENGTH,
    Call,
    ScpiDevice,
    ScpiError,
    Wait,
    spellings,
)


class Echo(ScpiDevice):
    """A device with a few words, to try the grammar on."""

    def __init__(self) -> None:
        self.volts = 0.0
        self.was_reset = False
        super().__init__(
            "MAKER,ECHO,0,1",
            {
                "[SOURce:]VOLTage[:LEVel]": self._set,
                "[SOURce:]VOLTage[:LEVel]?": lambda _: f"{self.volts:g}",
                "OUTPut:NAME?": lambda call: f"{call.suffixes}{call.channels()}",
                "MEASure[:SCALar]:VOLTage?": lambda _: Wait(0.5, lambda: "3"),
                "ROUTe:CLOSe": lambda _: None,
            },
        )

    def reset(self) -> None:
        self.was_reset = True

    def _set(self, call: Call) -> None:
        self.volts = call.number(0.0, 30.0)


def say(device: ScpiDevice, line: str) -> str | None:
    """Carry a line out without waiting."""
    work = device.execute(line)
    try:
        while True:
            next(work)
    except StopIteration as ended:
        answer: str | None = ended.value
        return answer


@pytest.mark.parametrize(
    "line",
    ["VOLT 12", "VOLTAGE 12", "volt:lev 12", "SOUR:VOLT 12", ":SOURce:VOLTage:LEVel 1.2E+1", "VOLT 12V"],
)
def test_long_and_short_forms_mean_the_same(line: str) -> None:
    device = Echo()
    assert say(device, f"{line};VOLT?") == "12"
    assert say(device, "SYST:ERR?") == '+0,"No error"'


def test_spellings_leave_optional_words_out() -> None:
    short = {"SYST:ERR?", "SYSTEM:ERR?", "SYST:ERROR?", "SYSTEM:ERROR?"}
    assert set(spellings("SYSTem:ERRor[:NEXT]?")) == short | {one.replace("?", ":NEXT?") for one in short}


def test_a_header_may_go_on_below_the_one_before_it() -> None:
    device = Echo()
    assert say(device, "SOUR:VOLT 3;VOLT?") == "3"
    assert say(device, "SYST:VERS?;ERR?") == '1999.0;+0,"No error"'
    assert say(device, "*IDN?;*OPC?") == "MAKER,ECHO,0,1;1"


def test_suffixes_and_channel_lists_are_told() -> None:
    device = Echo()
    assert say(device, "OUTP2:NAME?") == "(2,)()"
    assert say(device, "OUTP:NAME? (@1,2)") == "()(1, 2)"
    assert say(device, "OUTP:NAME? (@x)") is None
    assert say(device, "SYST:ERR?") == '-104,"Data type error"'


@pytest.mark.parametrize(
    ("line", "error"),
    [
        ("NONSENSE", -113),
        ("*NON?", -113),
        (":VOLTS 3", -113),
        ("VOLT", -109),
        ("VOLT high", -104),
        ("VOLT 99", -222),
    ],
)
def test_errors_wait_in_the_queue_and_nothing_is_answered(line: str, error: int) -> None:
    device = Echo()
    assert say(device, line) is None
    found = say(device, "SYST:ERR?")
    assert found is not None
    assert found.startswith(f"{error},")


def test_limits_can_be_asked_for_by_name() -> None:
    device = Echo()
    assert say(device, "VOLT MAX;VOLT?") == "30"
    assert say(device, "VOLT MIN;VOLT?") == "0"


def test_a_full_queue_ends_with_overflow_and_cls_empties_it() -> None:
    device = Echo()
    for _ in range(QUEUE_LENGTH + 5):
        say(device, "NONSENSE")
    assert say(device, "SYST:ERR:COUN?") == str(QUEUE_LENGTH)
    errors = [say(device, "SYST:ERR?") for _ in range(QUEUE_LENGTH)]
    assert errors[0] == '-113,"Undefined header"'
    assert errors[-1] == '-350,"Queue overflow"'
    say(device, "NONSENSE")
    say(device, "*CLS")
    assert say(device, "SYST:ERR?") == '+0,"No error"'


def test_event_bits_are_taken_once() -> None:
    device = Echo()
    assert say(device, "*ESR?") == "128"
    say(device, "NONSENSE")
    say(device, "VOLT 99")
    say(device, "*OPC")
    assert say(device, "*ESR?") == str(32 + 16 + 1)
    assert say(device, "*ESR?") == "0"


def test_status_byte_sums_up() -> None:
    device = Echo()
    assert say(device, "*STB?") == "0"
    say(device, "*ESE 32;*SRE 32")
    assert say(device, "*ESE?;*SRE?") == "32;32"
    say(device, "NONSENSE")
    assert say(device, "*STB?") == str(4 + 32 + 64)


def test_reset_and_the_quiet_words() -> None:
    device = Echo()
    assert say(device, "*RST;*WAI;*TRG;SYST:REM;SYST:LOC;ABOR;SYST:BEEP;*TST?") == "0"
    assert device.was_reset


def test_an_answer_may_take_its_time() -> None:
    work = Echo().execute("MEAS:VOLT?")
    assert next(work) == 0.5
    with pytest.raises(StopIteration) as ended:
        next(work)
    assert ended.value.value == "3"


def test_a_complaint_keeps_its_number() -> None:
    assert ScpiError(OUT_OF_RANGE).entry == OUT_OF_RANGE


@given(st.text(st.characters(codec="ascii"), max_size=60))
def test_no_line_breaks_the_device(line: str) -> None:
    device = Echo()
    say(device, line)
    assert say(device, "*IDN?") == "MAKER,ECHO,0,1"
