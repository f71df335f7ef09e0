"""Replies of SCPI instruments against what their manuals print, one table a source."""

import pytest
from helpers.outside import Source, row

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.instruments.address import TcpAddress, parse_address
from benchlog.instruments.decode import as_text, decoder, scpi
from benchlog.instruments.dialogue import Dialogue, Manner, Phase
from benchlog.instruments.error_numbers import ErrorClass, error_class
from benchlog.instruments.profile import find_profile
from benchlog.instruments.profile_reply import Reply, UnitWord
from benchlog.simbench.scpi import QUEUE_LENGTH, ScpiDevice

HP_COUNTER = Source("HP 53131A/132A manual p. 3-17, number forms and 9.91E+37 for not a number")
POWER_METER = Source("N1911A manual p. 106, NR3 examples of IEEE 488.2 8.7.4")
ANRITSU = Source("Anritsu 10450-00052M, infinity and not a number")
AGILENT_34410 = Source("Agilent 34410A User's Guide, manual range exceeded is +/-9.9E+37 on the wire")
MGR10 = Source("MGR10 manual, a failed query is answered with +9.90E+37")
AIM_TTI_1908 = Source("Aim-TTi 1908 manual p. 39, readings with their units, OVLOAD and OVFLOW")
AIM_TTI_QPX = Source("Aim-TTi QPX1200 manual, identity string and TCP port 9221")
KEITHLEY_2110 = Source("Keithley 2110 manual p. 5-13, reading string SD.DDDDDDDDESDD with NL or CR NL")
BK_891 = Source("BK 891 manual p. 66 and Chroma 19020 manual p. 99, SYSTem:ERRor? when empty")
LXI = Source("lxistandard.org/About/LXI-Protocols.aspx, port 5025 for SCPI on a raw socket")
FORMS_FOLLOW = Source(
    "HP 53131A/132A manual p. 3-17, number forms and 9.91E+37 for not a number", follows=True
)

VOLTS = Function.VOLTS_DC
OK, OVERLOAD, NAN, MALFORMED = Outcome.OK, Outcome.OVERLOAD, Outcome.NOT_A_NUMBER, Outcome.MALFORMED


@pytest.mark.parametrize(
    ("text", "value"),
    [
        row(FORMS_FOLLOW, "+1.23450000E+00", 1.2345),
        row(FORMS_FOLLOW, "-12", -12.0),
        row(FORMS_FOLLOW, "-12.50", -12.5),
        row(POWER_METER, "1.23E+6", 1.23e6),
        row(POWER_METER, "123.4E-54", 123.4e-54),
    ],
)
def test_numbers(text: str, value: float) -> None:
    made = scpi(text, VOLTS, 0)
    assert (made.outcome, made.value) == (OK, value)


@pytest.mark.parametrize(
    ("text", "outcome", "negative"),
    [
        row(AGILENT_34410, "+9.90000000E+37", OVERLOAD, False),
        row(AGILENT_34410, "-9.9E+37", OVERLOAD, True),
        row(ANRITSU, "9.9E37", OVERLOAD, False),
        row(ANRITSU, "9.91E37", NAN, False),
        row(HP_COUNTER, "+9.91000000E+37", NAN, False),
        row(MGR10, "+9.90E+37", OVERLOAD, False),
        row(FORMS_FOLLOW, "", MALFORMED, False),
        row(FORMS_FOLLOW, "abc", MALFORMED, False),
    ],
)
def test_specials_and_what_is_no_number(text: str, outcome: Outcome, negative: bool) -> None:
    made = scpi(text, VOLTS, 0)
    assert (made.outcome, made.value, made.negative) == (outcome, None, negative)


@pytest.mark.parametrize(
    ("item", "outcome", "value"),
    [row(FORMS_FOLLOW, 1, OK, 1.0), row(FORMS_FOLLOW, 2, OK, 2.0), row(FORMS_FOLLOW, 3, OVERLOAD, None)],
)
def test_entries_of_a_list(item: int, outcome: Outcome, value: float | None) -> None:
    made = decoder(Reply(form="list", item=item))("1.0,2.0,9.9E37", VOLTS, 0)
    assert (made.outcome, made.value) == (outcome, value)


WITH_UNITS = Reply(
    form="decorated",
    overload=("OVLOAD",),
    not_a_number=("OVFLOW",),
    units={"V DC": UnitWord(function=VOLTS), "F": UnitWord(function=Function.CAPACITANCE)},
)


@pytest.mark.parametrize(
    ("text", "outcome", "value", "function"),
    [
        row(AIM_TTI_1908, "101.234e-3 V DC", OK, 0.101234, VOLTS),
        row(AIM_TTI_1908, "-10.0012e00 V DC", OK, -10.0012, VOLTS),
        row(AIM_TTI_1908, "01.010e-6 F", OK, 1.01e-6, Function.CAPACITANCE),
        row(AIM_TTI_1908, "OVLOAD", OVERLOAD, None, VOLTS),
        row(AIM_TTI_1908, "OVFLOW", NAN, None, VOLTS),
    ],
)
def test_readings_with_their_units(
    text: str, outcome: Outcome, value: float | None, function: Function
) -> None:
    made: Reading = decoder(WITH_UNITS)(text, VOLTS, 0)
    assert (made.outcome, made.value, made.function) == (outcome, value, function)


@pytest.mark.parametrize(
    ("line", "value"),
    [
        row(KEITHLEY_2110, b"+1.23456789E-01", 0.123456789),
        row(KEITHLEY_2110, b"-1.23456789E-01\r", -0.123456789),
    ],
)
def test_either_line_end(line: bytes, value: float) -> None:
    assert scpi(as_text(line), VOLTS, 0).value == value


@pytest.mark.parametrize("identity", [row(AIM_TTI_QPX, "THURLBY THANDAR, QPX1200, 279730, 3.00 – 1.00")])
def test_an_identity_of_four_fields_is_known(identity: str) -> None:
    dialogue = Dialogue(Manner.of(find_profile("scpi-supply")))
    dialogue.expire(0)
    dialogue.feed(identity.encode() + b"\n", 1)
    assert dialogue.phase is Phase.IDLE


@pytest.mark.parametrize(
    ("answer", "empty"),
    [
        row(BK_891, '0,"No error"', True),
        row(BK_891, '+0,"No error"', True),
        row(BK_891, '-350,"Queue overflow"', False),
        row(BK_891, '-113,"Undefined header"', False),
    ],
)
def test_an_empty_error_queue_is_told_from_an_error(answer: str, empty: bool) -> None:
    queue = find_profile("scpi-multimeter").errors
    assert queue is not None
    assert queue.says_none(answer) is empty


STATUS = Source("*ESR? and *STB? bits of a bench meter, cnblogs.com/ybqjymy/p/13385279.html")
STATUS_FOLLOW = Source(
    "*ESR? and *STB? bits of a bench meter, cnblogs.com/ybqjymy/p/13385279.html", follows=True
)
AGILENT_8712 = Source(
    "Agilent 8712ET manual section 13, HP 70004A section 8-4 and Chroma 19020 manual, error numbers"
)


@pytest.mark.parametrize(
    ("number", "kind"),
    [
        *(
            row(AGILENT_8712, number, ErrorClass.COMMAND)
            for number in (
                -101, -102, -103, -104, -105, -108, -109, -110, -111, -112, -113, -114, -120, -121, -123, -124,
                -128, -130, -131, -134, -138, -140, -141, -151, -158, -168,
            )
        ),
        row(AGILENT_8712, -200, ErrorClass.EXECUTION),
        row(AGILENT_8712, -350, ErrorClass.DEVICE),
        row(STATUS, 7, ErrorClass.DEVICE),
    ],
)  # fmt: skip
def test_an_error_number_tells_its_class(number: int, kind: ErrorClass) -> None:
    assert error_class(f'{number:+d},"some words"') is kind


def asked(device: ScpiDevice, *lines: str) -> list[str | None]:
    """The answers of a simulated instrument, which knows nothing of the near end."""
    answers = []
    for line in lines:
        work = device.execute(line)
        try:
            while True:
                next(work)
        except StopIteration as ended:
            answers.append(ended.value)
    return answers


@pytest.mark.parametrize(
    ("entry", "bit"),
    [
        row(STATUS, (-113, "Undefined header"), 32),
        row(STATUS, (-222, "Data out of range"), 16),
        row(STATUS, (-350, "Queue overflow"), 8),
        row(STATUS, (7, "Overheated"), 8),
    ],
)
def test_an_error_sets_its_bit_of_esr_and_reading_clears_it(entry: tuple[int, str], bit: int) -> None:
    device = ScpiDevice("M,X,0,1", {})
    assert asked(device, "*ESR?") == ["128"]
    device.complain(entry)
    assert asked(device, "*ESR?", "*ESR?") == [str(bit), "0"]


@pytest.mark.parametrize(
    ("lines", "esr", "stb"),
    [
        row(STATUS_FOLLOW, ("NONSENSE",), 160, 4),
        row(STATUS_FOLLOW, ("*ESE 32", "NONSENSE"), 160, 36),
        row(STATUS_FOLLOW, ("*ESE 32", "NONSENSE", "*CLS"), 0, 0),
        row(STATUS_FOLLOW, (), 128, 0),
    ],
)
def test_status_bits_add_up(lines: tuple[str, ...], esr: int, stb: int) -> None:
    device = ScpiDevice("M,X,0,1", {})
    asked(device, *lines)
    assert asked(device, "*STB?", "*ESR?") == [str(stb), str(esr)]


@pytest.mark.parametrize(("more", "last"), [row(BK_891, 5, '-350,"Queue overflow"')])
def test_a_full_queue_ends_with_an_overflow(more: int, last: str) -> None:
    device = ScpiDevice("M,X,0,1", {})
    for _ in range(QUEUE_LENGTH + more):
        device.complain((-113, "Undefined header"))
    answers = asked(device, *["SYST:ERR?"] * (QUEUE_LENGTH + 1))
    assert answers[-2:] == [last, '+0,"No error"']


@pytest.mark.parametrize(
    ("address", "port"),
    [row(LXI, "TCPIP::meter.local::5025::SOCKET", 5025), row(AIM_TTI_QPX, "tcp://192.168.1.20:9221", 9221)],
)
def test_ports_are_the_persons_to_set(address: str, port: int) -> None:
    found = parse_address(address)
    assert isinstance(found, TcpAddress)
    assert found.port == port
