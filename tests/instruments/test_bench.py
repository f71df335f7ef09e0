"""A bench file: each instrument by its job, every fault told at once with its place."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function
from benchlog.domain.sixnumbers import MeterAtHand
from benchlog.errors import BadInput
from benchlog.instruments import bench as benches
from benchlog.instruments.address import SerialAddress, TcpAddress
from benchlog.instruments.bench import Bench, MeterEntry, parse
from benchlog.instruments.profile import find_profile

HEAD = 'file = "benchlog bench 1"\nname = "Hall bench"\n'
WHOLE = (
    HEAD
    + """
[[meter]]
job = "lamp"
profile = "scpi-multimeter"
address = "TCPIP::127.0.0.1::5025::SOCKET"
function = "volts_ac"
interval = 0.25
clipped_to = "across the series lamp"
link_isolated = "yes"
rating = "CAT II 300 V"
error = "0.5%+2@0.1"

[[meter]]
job = "parts"
profile = "scpi-multimeter"
address = "tcp://127.0.0.1:5026"

[[supply]]
job = "bench supply"
profile = "scpi-supply"
address = "tcp://127.0.0.1:5027"

[[off_switch]]
kind = "relay"
job = "mains relay"
address = "/dev/ttyUSB0"
beat = 0.05
drop_out = 0.5

[[off_switch]]
kind = "supply"

[[off_switch]]
kind = "hand"
"""
)
LAMP = '[[meter]]\njob = "lamp"\nprofile = "scpi-multimeter"\naddress = "tcp://h:1"\n'
SUPPLY = '[[supply]]\njob = "s"\nprofile = "scpi-supply"\naddress = "tcp://h:2"\n'


def faults(text: str, folders: tuple[Path, ...] = ()) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        parse(text, "b.toml", folders)
    return {fault.place.removeprefix("b.toml: "): fault.problem for fault in caught.value.faults}


def test_a_whole_bench_is_read() -> None:
    bench = parse(WHOLE, "b.toml")
    lamp, parts = bench.meter
    assert (lamp.job, lamp.function, lamp.interval) == ("lamp", Function.VOLTS_AC, 0.25)
    assert lamp.parsed_address == TcpAddress("TCPIP::127.0.0.1::5025::SOCKET", "127.0.0.1", 5025)
    error = lamp.error_in(Function.VOLTS_AC)
    assert error is not None
    assert error.counts == 2
    assert parts.error_in(Function.OHMS) is None
    assert (parts.function, parts.interval, parts.link_isolated) == (None, None, "unknown")
    (supply,) = bench.supply
    assert supply.parsed_address == supply.cut == TcpAddress("tcp://127.0.0.1:5027", "127.0.0.1", 5027)


def test_off_switches_come_with_their_job_and_supply_filled_in() -> None:
    relay, supply, hand = parse(WHOLE, "b.toml").off_switch
    assert (relay.job, relay.beat, relay.drop_out) == ("mains relay", 0.05, 0.5)
    assert relay.parsed_address == SerialAddress("/dev/ttyUSB0", "/dev/ttyUSB0")
    assert (supply.job, supply.supply) == ("bench supply", "bench supply")
    assert (hand.job, hand.supply) == ("hand", "")


def test_a_cut_address_of_its_own() -> None:
    bench = parse(HEAD + SUPPLY + 'cut_address = "tcp://h:3"\n', "b.toml")
    assert bench.supply[0].cut == TcpAddress("tcp://h:3", "h", 3)


def test_faults_of_every_kind_are_told_at_once() -> None:
    text = (
        HEAD
        + """
colour = "red"
[[meter]]
job = "lamp"
profile = "scpi-multimetre"
address = "nowhere"
intervall = 1
[[meter]]
job = "lamp"
profile = "scpi-supply"
address = "GPIB0::7::INSTR"
[[meter]]
job = "x"
profile = "ascii-handheld"
address = "COM3"
function = "inductance"
[[supply]]
job = ""
profile = "scpi-multimeter"
address = "tcp://h:2"
cut_address = "tcp://h"
[[off_switch]]
kind = "supply"
supply = "lab"
[[off_switch]]
kind = "relay"
address = "tcp://h:1"
"""
    )
    assert set(faults(text)) == {
        "colour",
        "meter[1].intervall",
        "meter[1].profile",
        "meter[1].address",
        "meter[2].job",
        "meter[2].profile",
        "meter[3].function",
        "supply[1].job",
        "supply[1].profile",
        "supply[1].cut_address",
        "off_switch[1].supply",
        "off_switch[2].address",
    }


@pytest.mark.parametrize(
    ("text", "place", "word"),
    [
        (HEAD, "b.toml", "names no instrument"),
        (HEAD + LAMP + 'function = "volt_ac"', "meter[1].function", "is not a choice"),
        (HEAD + LAMP + 'error = "quite good"', "meter[1].error", '"quite good"'),
        (HEAD + LAMP + 'errors = { ohm = "1%" }', "meter[1].errors.ohm", "is not a function"),
        (HEAD + LAMP + 'errors = { ohms = "1 V" }', "meter[1].errors.ohms", "is in V"),
        (HEAD + LAMP + 'errors = { ohms = "good" }', "meter[1].errors.ohms", '"good"'),
        (HEAD + LAMP + "errors = { ohms = 1 }", "meter[1].errors.ohms", "is not text"),
        (HEAD + LAMP + "range = 10", "meter[1].range", "belongs to no function"),
        (HEAD + LAMP + 'function = "diode"\nrange = 10', "meter[1].range", "selects no range for 10"),
        (HEAD + LAMP + "test_frequency = 120", "meter[1].test_frequency", "has no test signal"),
        (HEAD + LAMP + 'calibrated = "2026-05-03"', "meter[1].calibrated", "is not a date"),
        (
            HEAD + LAMP + "null = { value = 0.1, time = 2026-05-03T10:00:00 }",
            "meter[1].null.time",
            "is not a moment",
        ),
        (
            HEAD + LAMP + "null = { value = 9, time = 2026-05-03T10:00:00Z }",
            "meter[1].null.value",
            "out of bounds",
        ),
        (
            HEAD
            + LAMP.replace("scpi-multimeter", "scpi-lcr-meter")
            + "null = { value = 0.1, time = 2026-05-03T10:00:00Z }",
            "meter[1].null",
            "does not measure ohms on two wires",
        ),
        (HEAD + LAMP + "interval = -1", "meter[1].interval", "out of bounds"),
        (HEAD + LAMP + 'link_isolated = "maybe"', "meter[1].link_isolated", "is not a choice"),
        (HEAD + LAMP.replace("tcp://h:1", ""), "meter[1].address", "is not an address"),
        (HEAD + LAMP.replace('"lamp"', "3"), "meter[1].job", "is not text"),
        (HEAD + LAMP.replace('"scpi-multimeter"', "3"), "meter[1].profile", "is not text"),
        (HEAD + LAMP + LAMP, "meter[2].job", "is the job of meter[1] already"),
        (
            HEAD + LAMP + '[[off_switch]]\nkind = "supply"',
            "off_switch[1].supply",
            "does not say which supply",
        ),
        (
            HEAD + SUPPLY + '[[off_switch]]\nkind = "supply"\nsupply = "t"',
            "off_switch[1].supply",
            'there is no supply "t"',
        ),
        (HEAD + LAMP + '[[off_switch]]\nkind = "relay"', "off_switch[1].address", "is missing"),
        (
            HEAD + LAMP + '[[off_switch]]\nkind = "relay"\naddress = "x"',
            "off_switch[1].address",
            "not an address",
        ),
        (
            HEAD + LAMP + '[[off_switch]]\nkind = "hand"\naddress = "COM1"',
            "off_switch[1].address",
            "has no place where the kind is hand",
        ),
        (
            HEAD + LAMP + '[[off_switch]]\nkind = "hand"\nsupply = "s"',
            "off_switch[1].supply",
            "has no place where the kind is hand",
        ),
        (
            HEAD + LAMP + '[[off_switch]]\nkind = "relay"\naddress = "COM1"\ndrop_out = 0.05',
            "off_switch[1].drop_out",
            "would chatter",
        ),
        ("file = ", "line 1", "invalid value"),
        (HEAD.replace("bench 1", "bench 9") + LAMP, "file", "newer benchlog"),
    ],
)
def test_each_fault_names_its_key(text: str, place: str, word: str) -> None:
    found = faults(text)
    assert place in found
    assert word in found[place]


def test_a_bench_of_a_newer_kind_is_refused_before_anything_else_is_said() -> None:
    assert set(faults(HEAD.replace("bench 1", "bench 9") + LAMP.replace("tcp://h:1", "nowhere"))) == {"file"}


def test_a_supply_with_one_connection_is_cut_on_the_one_that_is_read(tmp_path: Path) -> None:
    text = find_profile("scpi-supply").text
    (tmp_path / "single.toml").write_text(
        text.replace("connections = 2", "connections = 1"), encoding="utf-8"
    )
    bench = HEAD + SUPPLY.replace("scpi-supply", "single") + '[[off_switch]]\nkind = "supply"\n'
    assert isinstance(parse(bench, "b.toml", (tmp_path,)), Bench)
    with_cut = bench.replace('"tcp://h:2"', '"tcp://h:2"\ncut_address = "tcp://h:3"')
    assert isinstance(parse(with_cut, "b.toml", (tmp_path,)), Bench)


def test_a_broken_profile_is_told_once_among_the_benchs_faults(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('file = "benchlog profile 1"\n', encoding="utf-8")
    bench = HEAD + LAMP.replace("scpi-multimeter", "mine") + LAMP.replace("scpi-multimeter", "mine")
    with pytest.raises(BadInput) as caught:
        parse(bench, "b.toml", (tmp_path,))
    places = [fault.place for fault in caught.value.faults]
    assert places.count("mine.toml: name") == 1
    assert "b.toml: meter[2].job" in places


def entry(more: str) -> MeterEntry:
    return parse(HEAD + LAMP + more, "b.toml").meter[0]


def test_a_function_has_an_error_of_its_own() -> None:
    found = entry('error = "1%"\nerrors = { ohms = "0.2%+2" }')
    said = {function: found.error_in(function) for function in (Function.OHMS, Function.VOLTS_DC)}
    assert {function: error and error.text for function, error in said.items()} == {
        Function.OHMS: "0.2%+2",
        Function.VOLTS_DC: "1%",
    }


@pytest.mark.parametrize(
    ("more", "today", "due"),
    [
        ("", date(2030, 1, 1), False),
        ("calibrated = 2026-05-03", date(2027, 5, 3), False),
        ("calibrated = 2026-05-03", date(2027, 5, 5), True),
        ("calibrated = 2026-05-03\ncalibrate_every = 24", date(2027, 5, 5), False),
    ],
)
def test_a_meter_past_its_date_is_said(more: str, today: date, due: bool) -> None:
    said = entry(more).overdue(today)
    expected = "was last calibrated on 2026-05-03, longer ago than 12 months"
    assert said == (expected if due else "")


def test_a_lead_null_is_a_value_and_a_moment() -> None:
    null = entry("null = { value = 0.12, time = 2026-05-03T12:15:00+02:00 }").null
    assert null == LeadNull(value=0.12, time=datetime(2026, 5, 3, 10, 15, tzinfo=UTC))


# --- lines of a serial port -------------------------------------------------------------------------

RTS_RELAY = '[[off_switch]]\nkind = "relay"\naddress = "COM1"\nline = "rts"\n'
PEDAL = '[[pedal]]\njob = "foot"\naddress = "COM1"\n'
SECOND = PEDAL.replace("foot", "knee")


def test_a_relay_is_pumped_unless_a_level_is_named() -> None:
    (pumped,) = parse(HEAD + LAMP + '[[off_switch]]\nkind = "relay"\naddress = "COM1"', "b").off_switch
    (high,) = parse(HEAD + LAMP + RTS_RELAY + "drop_out = 0.02", "b").off_switch
    (low,) = parse(HEAD + LAMP + RTS_RELAY + 'level = "low"', "b").off_switch
    assert [one.held_by_level for one in (pumped, high, low)] == [False, True, True]
    assert [one.rests_high for one in (pumped, high, low)] == [frozenset(), frozenset(), {"rts"}]


def test_a_pedal_cuts_with_a_contact_that_closes_unless_it_says_otherwise() -> None:
    foot, knee = parse(HEAD + LAMP + PEDAL + SECOND + 'line = "dsr"\npressed = "open"', "b").pedal
    assert (foot.line, foot.does, foot.pressed, foot.feed) == ("cts", "cut", "closed", "dtr")
    assert foot.parsed_address == SerialAddress("COM1", "COM1")
    assert (foot.fails_to_cut, knee.fails_to_cut) == (False, True)


@pytest.mark.parametrize(
    "shared",
    [
        RTS_RELAY + PEDAL,
        RTS_RELAY.replace("rts", "pump") + PEDAL,
        RTS_RELAY + PEDAL + SECOND + 'line = "dsr"',
        RTS_RELAY + PEDAL + 'feed = "none"\n' + SECOND.replace("COM1", "COM2"),
    ],
)
def test_a_relay_and_pedals_share_a_port_each_with_lines_of_its_own(shared: str) -> None:
    assert parse(HEAD + LAMP + shared, "b").pedal[0].job == "foot"


@pytest.mark.parametrize(
    ("text", "place", "word"),
    [
        (RTS_RELAY.replace("rts", "cts"), "off_switch[1].line", "is not a choice"),
        (RTS_RELAY + 'level = "up"', "off_switch[1].level", "is not a choice"),
        (
            RTS_RELAY.replace("rts", "pump") + 'level = "low"',
            "off_switch[1].level",
            "no place on a pumped line",
        ),
        ('[[off_switch]]\nkind = "hand"\nline = "rts"', "off_switch[1].line", "where the kind is hand"),
        (
            RTS_RELAY + RTS_RELAY.replace("rts", "dtr") + 'job = "b"',
            "off_switch[2].address",
            "off_switch[1] has it",
        ),
        (PEDAL.replace("COM1", "tcp://h:5"), "pedal[1].address", "is no serial port"),
        (PEDAL.replace("COM1", "x"), "pedal[1].address", "is not an address"),
        (PEDAL.replace("foot", "lamp"), "pedal[1].job", "is the job of meter[1]"),
        (PEDAL + 'does = "go"', "pedal[1].does", "is not a choice"),
        (PEDAL + SECOND, "pedal[2].address", "needs the line cts of a port where pedal[1] has it"),
        (
            RTS_RELAY + PEDAL + 'feed = "rts"',
            "pedal[1].address",
            "needs the line rts of a port where off_switch[1]",
        ),
        (
            LAMP.replace("lamp", "b")
            .replace("scpi-multimeter", "ascii-handheld")
            .replace("tcp://h:1", "ASRL1")
            + PEDAL.replace("COM1", "/dev/ttyS0"),
            "pedal[1].address",
            "is the port of meter[2]",
        ),
    ],
)
def test_what_hangs_on_lines_is_told_of_by_its_key(text: str, place: str, word: str) -> None:
    found = faults(HEAD + LAMP + text)
    assert list(found) == [place]
    assert word in found[place]


class TestForAPlanThatIsMade:
    """What each meter may hang on, and which of them stay where they are."""

    @staticmethod
    def at_hand(**entry: object) -> MeterAtHand:
        values: dict[str, object] = {
            "job": "dmm",
            "profile": "scpi-multimeter",
            "address": "tcp://127.0.0.1:1",
        }
        meter = MeterEntry(**{**values, **entry})  # type: ignore[arg-type]
        (found,) = benches.meters_at_hand(Bench(name="b", meter=(meter,)))
        return found

    @pytest.mark.parametrize(
        ("isolated", "rating", "job", "fits"),
        [
            ("yes", "CAT II 300 V", "dmm", True),
            ("unknown", "CAT II 300 V", "dmm", False),
            ("yes", "", "dmm", False),
            ("unknown", "", "lamp", True),
            ("no", "CAT II 300 V", "lamp", False),
            ("yes", "CAT I 100 V", "lamp", False),
        ],
    )
    def test_none_goes_to_the_mains_side_unless_somebody_said_so_and_nothing_speaks_against_it(
        self, isolated: str, rating: str, job: str, *, fits: bool
    ) -> None:
        assert self.at_hand(link_isolated=isolated, rating=rating, job=job).mains_side is fits

    @pytest.mark.parametrize(
        ("profile", "handheld"),
        [("scpi-multimeter", False), ("ascii-handheld", True), ("nobody-knows", True)],
    )
    def test_a_meter_that_sends_by_itself_is_a_handheld(self, profile: str, *, handheld: bool) -> None:
        assert self.at_hand(profile=profile).handheld is handheld

    def test_a_walking_meter_stays_in_the_hands_where_there_is_any_other(self) -> None:
        walking, clipped = MeterAtHand("probes"), MeterAtHand("dmm", Function.VOLTS_DC)
        assert benches.clipped((walking, clipped)) == (clipped,)
        assert benches.clipped((walking,)) == (walking,)
