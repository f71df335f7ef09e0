"""Network meters, supply and parts meter over real sockets."""

import json
import time
from functools import partial

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench.amplifier import Amplifier

CLIPPED = {
    "lamp": ("CONF:VOLT:AC", 22.8, 2.0),
    "+B": ("CONF:VOLT:DC", 39.9, 1.5),
    "-B": ("CONF:VOLT:DC", -39.9, 1.5),
    "offset L": ("CONF:VOLT:DC", 0.012, 0.005),
    "offset R": ("CONF:VOLT:DC", -0.008, 0.005),
    "idle L": ("CONF:VOLT:DC", 0.0162, 0.002),
    "idle R": ("CONF:VOLT:DC", 0.0156, 0.002),
    "sink L": ("CONF:TEMP", 25.2, 1.5),
}


def test_every_meter_shows_its_own_point() -> None:
    with live_bench(seed=7) as live:
        assert isinstance(live.bench.model, Amplifier)
        live.bench.model.relay_in = True
        live.bench.model.dial = 1.0
        for job, (configure, expected, within) in CLIPPED.items():
            live.line(job).say(configure)
            live.read_until(job, expected - within, expected + within)
            assert live.ask(job, "SYST:ERR?") == '+0,"No error"'


def test_a_meter_takes_its_time_and_answers_in_order() -> None:
    with live_bench(delay=0.05) as live:
        line = live.line("+B")
        began = time.monotonic()
        line.say("READ?\n*IDN?\nREAD?")
        first, identity, second = line.hear(), line.hear(), line.hear()
        assert time.monotonic() - began >= 0.1
        assert identity.count(",") == 3
        assert float(first) == pytest.approx(0.0, abs=1e-3)
        assert second != identity


def test_two_connections_share_one_converter() -> None:
    with live_bench(delay=0.05) as live:
        one, other = live.line("+B"), live.another_line("+B")
        began = time.monotonic()
        one.say("READ?")
        other.say("READ?")
        assert float(one.hear()) == pytest.approx(float(other.hear()), abs=1e-3)
        assert time.monotonic() - began >= 0.1
        other.close()


def test_a_line_may_come_in_pieces_and_with_carriage_returns() -> None:
    with live_bench() as live:
        line = live.line("+B")
        for piece in (b"*ID", b"N?\r", b"\n"):
            line._file.write(piece)
            time.sleep(0.01)
        assert line.hear() == "BENCHLOG-SIM,MULTIMETER,0,1"


def test_a_line_without_end_is_thrown_away() -> None:
    with live_bench() as live:
        line = live.line("+B")
        line._file.write(b"x" * 5000)
        line.say("")
        assert until(lambda: "-363" in line.ask("SYST:ERR?"))


def test_functions_that_mean_nothing_there() -> None:
    with live_bench(delay=0.0) as live:
        for configure, answer in (
            ("CONF:RES", "+9.90000000E+37"),
            ("CONF:DIOD", "+9.90000000E+37"),
            ("CONF:TEMP", "+9.91000000E+37"),
            ("CONF:FREQ", "+0.00000000E+00"),
        ):
            live.line("+B").say(configure)
            assert live.ask("+B", "READ?") == answer
        assert abs(float(live.ask("+B", "MEAS:CURR:DC?"))) < 1e-4
        assert live.ask("+B", "FUNC?") == '"CURR:DC"'


def test_ranges_functions_and_fetch() -> None:
    with live_bench("amplifier", delay=0.0) as live:
        assert isinstance(live.bench.model, Amplifier)
        live.bench.model.relay_in = True
        live.bench.model.dial = 1.0
        live.read_until("+B", 35.0, 42.0)
        live.line("+B").say("CONF:VOLT:DC 10")
        assert live.ask("+B", "READ?") == "+9.90000000E+37"
        live.line("-B").say("CONF:VOLT:DC 10")
        assert live.ask("-B", "READ?") == "-9.90000000E+37"
        assert live.ask("+B", "FETC?") == "+9.90000000E+37"
        live.line("+B").say("VOLT:DC:RANG:AUTO ON")
        assert live.read("+B") > 30.0
        live.line("+B").say('FUNC "VOLT:AC"')
        assert live.ask("+B", "CONF?") == '"VOLT:AC"'
        assert live.read("+B") == pytest.approx(0.1, abs=0.05)
        live.line("+B").say('FUNC "GREMLINS"')
        assert live.ask("+B", "SYST:ERR?").startswith("-224")
        live.line("+B").say("VOLT:NPLC 1;:TRIG:SOUR IMM;:INIT")
        assert live.ask("+B", "SYST:ERR?") == '+0,"No error"'
        assert live.ask("+B", "*RST;CONF?") == '"VOLT:DC"'
        assert float(live.ask("+B", "FETC?")) > 30.0


def test_a_mains_frequency_is_there_while_live() -> None:
    with live_bench(delay=0.0) as live:
        assert isinstance(live.bench.model, Amplifier)
        live.bench.model.relay_in = True
        live.bench.model.dial = 1.0
        live.line("lamp").say("CONF:FREQ")
        live.read_until("lamp", 49.0, 51.0)


# --- the supply ----------------------------------------------------------------------------------


def test_supply_says_what_it_was_told() -> None:
    with live_bench("board") as live:
        supply = live.line("bench supply")
        for command in ("VOLT 15,(@1)", "CURR 0.25,(@1,2)", "VOLT:PROT 18,(@2)", "SOUR2:VOLT 12"):
            supply.say(command)
        assert supply.ask("VOLT? (@1)") == "+1.50000000E+01"
        assert supply.ask("VOLT? (@1,2)") == "+1.50000000E+01,+1.20000000E+01"
        assert supply.ask("CURR? (@2)") == "+2.50000000E-01"
        assert supply.ask("VOLT:PROT? (@2)") == "+1.80000000E+01"
        assert supply.ask("SYST:ERR?") == '+0,"No error"'
        assert supply.ask("OUTP? (@1,2)") == "0,0"
        assert supply.ask("INST:NSEL 2;:VOLT?") == "+1.20000000E+01"
        assert supply.ask("INST:NSEL?") == "2"


@pytest.mark.parametrize(
    ("command", "error"),
    [
        ("VOLT 99,(@1)", "-222"),
        ("VOLT 5,(@3)", "-114"),
        ("OUTP", "-109"),
        ("OUTP MAYBE,(@1)", "-224"),
        ("INST:NSEL 5", "-114"),
    ],
)
def test_supply_refuses(command: str, error: str) -> None:
    with live_bench("board") as live:
        live.line("bench supply").say(command)
        assert live.ask("bench supply", "SYST:ERR?").startswith(error)


def test_one_line_on_a_second_connection_switches_everything_off() -> None:
    with live_bench("board") as live:
        supply, cut = live.line("bench supply"), live.another_line("bench supply")
        supply.say("VOLT 15,(@1,2)\nCURR 0.3,(@1,2)\nOUTP ON,(@1,2)")
        assert supply.ask("OUTP? (@1,2)") == "1,1"
        until(lambda: float(supply.ask("MEAS:VOLT? (@1)")) > 14.5)
        until(lambda: live.read("regulated +") > 12.0)
        assert float(supply.ask("MEAS:CURR? (@2)")) == pytest.approx(0.052, abs=0.005)
        cut.say("OUTP OFF,(@1,2)")
        assert cut.ask("OUTP? (@1,2)") == "0,0"
        until(lambda: float(cut.ask("MEAS:VOLT? (@1)")) < 0.5)
        assert [one["on"] for one in live.saw("output", output=1)] == [True, False]
        assert [one["on"] for one in live.saw("power")] == [True, False]
        assert live.control("state")["outputs"] == [False, False]
        cut.close()


def test_limiting_and_protection_show_in_the_condition() -> None:
    with live_bench("board", "shorted-output") as live:
        supply = live.line("bench supply")
        supply.say("VOLT 10,(@1,2)\nCURR 0.15,(@1,2)\nOUTP ON,(@1,2)")
        until(lambda: supply.ask("STAT:QUES:INST:ISUM1:COND?") == "1")
        assert supply.ask("STAT:QUES:COND?") == "8192"
        until(lambda: supply.ask("STAT:QUES:INST:ISUM2:COND?") == "0")
        supply.say("VOLT:PROT 5,(@2)")
        until(lambda: supply.ask("STAT:QUES:INST:ISUM2:COND?") == "512")
        assert supply.ask("OUTP? (@2)") == "0"
        assert supply.ask("VOLT:PROT:TRIP? (@2)") == "1"
        supply.say("VOLT:PROT 15,(@2)\nOUTP:PROT:CLE (@2)\nOUTP ON,(@2)")
        assert supply.ask("OUTP? (@2)") == "1"
        supply.say("*RST")
        assert supply.ask("OUTP? (@1,2)") == "0,0"


def test_runaway_on_the_board_shows_as_current() -> None:
    with live_bench("board", "runaway", speed=50.0, delay=0.0) as live:
        supply = live.line("bench supply")
        supply.say("VOLT 20,(@1,2)\nCURR 0.4,(@1,2)\nOUTP ON,(@1,2)")
        until(lambda: float(supply.ask("MEAS:CURR? (@1)")) > 0.120)
        assert float(supply.ask("MEAS:CURR? (@2)")) < 0.07


# --- the parts meter -----------------------------------------------------------------------------


def settled(live: LiveBench, part: str, function: str, side: str = "") -> float:
    """Probe a part and read until three readings agree."""
    assert live.control("probe", part=part, side=side)["ok"]
    live.line("parts meter").say(f"CONF:{function}")
    row: list[float] = []

    def agree() -> bool:
        row.append(live.read("parts meter"))
        return len(row) > 5 and max(row[-3:]) - min(row[-3:]) <= 0.002 * abs(row[-1])

    until(agree, part)
    return row[-1]


@pytest.mark.parametrize(
    ("part", "function", "side", "expected"),
    [
        ("R101", "RES", "", 31200.0),
        ("r 103", "RES", "", 11930.0),
        ("R108", "RES", "", 0.334 + 0.12),
        ("R108", "FRES", "", 0.334),
        ("R209", "RES", "", 9.9e37),
        ("R106", "DIOD", "", 9.9e37),
        ("R105", "DIOD", "", 0.1013),
        ("C102", "CAP", "", 38.1e-6),
        ("C104", "CAP", "", 101.4e-9),
        ("R101", "CAP", "", 9.9e37),
        ("Q102BC", "DIOD", "", 0.551),
        ("Q102BC", "DIOD", "reverse", 9.9e37),
        ("Q202BC", "DIOD", "", 0.0031),
        ("Q202BC", "DIOD", "reverse", 0.0031),
        ("C101", "RES", "", 9.9e37),
        ("R101", "TEMP", "", 9.91e37),
        ("R101", "VOLT:DC", "", 0.0),
    ],
)
def test_the_parts_meter_reads_what_its_probes_touch(
    part: str, function: str, side: str, expected: float
) -> None:
    with live_bench(delay=0.002) as live:
        if function == "VOLT:DC":
            assert live.control("probe", part=part)["ok"]
            assert live.read("parts meter") == pytest.approx(0.0, abs=1e-3)
            return
        assert settled(live, part, function, side) == pytest.approx(
            expected, rel=0.06 if expected < 0.01 else 0.005
        )


def test_in_the_air_it_reads_open_and_almost_no_capacitance() -> None:
    with live_bench(delay=0.002) as live:
        line = live.line("parts meter")
        for function, low, high in (("RES", 9e37, 1e38), ("DIOD", 9e37, 1e38), ("CAP", 0.0, 2e-11)):
            line.say(f"CONF:{function}")
            assert low <= live.read("parts meter") <= high
        assert live.control("probe", part="R101")["ok"]
        assert live.control("state")["probing"] == "R101"
        assert live.control("probe", part="")["ok"]
        assert live.control("state")["probing"] == ""
        line.say("CONF:RES")
        assert live.read("parts meter") == pytest.approx(9.9e37)


def test_a_reading_creeps_to_its_value() -> None:
    with live_bench(delay=0.0, speed=1.0) as live:
        live.line("parts meter").say("CONF:CAP")
        assert live.control("probe", part="C102")["ok"]
        first = live.read("parts meter")
        last = live.read_until("parts meter", 38.0e-6, 38.3e-6)
        assert first < 0.98 * last


def test_probing_nothing_that_is_there_is_refused() -> None:
    with live_bench() as live:
        answer = live.control("probe", part="R999")
        assert not answer["ok"]
        assert "R999" in answer["why"]


# --- the witness ---------------------------------------------------------------------------------


def count_to(live: LiveBench, job: str, replies: int) -> bool:
    """Whether the witness was told of that many replies."""
    return len(live.saw("reply", job=job)) == replies


def test_the_witness_misses_no_reply_and_no_command() -> None:
    jobs = ("+B", "-B", "lamp")
    with live_bench(delay=0.001) as live:
        heard: dict[str, list[str]] = {job: [] for job in jobs}
        for _ in range(60):
            for job in jobs:
                live.line(job).say("READ?")
            for job in jobs:
                heard[job].append(live.line(job).hear())
        for job in jobs:
            until(partial(count_to, live, job, 60))
            assert [one["text"] for one in live.saw("reply", job=job)] == heard[job]
            assert [one["text"] for one in live.saw("command", job=job)] == ["READ?"] * 60
        times = [one["t"] for one in live.saw("reply")]
        assert times == sorted(times)
        assert json.dumps(live.seen)


def test_a_silent_meter_hears_and_never_answers() -> None:
    with live_bench("amplifier", "silent-meter", speed=50.0, delay=0.001) as live:
        assert isinstance(live.bench.model, Amplifier)
        assert live.read("+B") == pytest.approx(0.0, abs=0.01)
        live.bench.model.relay_in = True
        live.bench.model.dial = 0.6
        live.wait_for("silent", job="+B")
        live.line("+B").say("READ?")
        assert live.line("+B").silent_for(0.2)
        assert live.saw("command", job="+B")[-1]["text"] == "READ?"
        assert live.read("-B") < -20.0


def test_another_fault_can_play_from_now_on() -> None:
    with live_bench("amplifier", speed=50.0, delay=0.001) as live:
        assert isinstance(live.bench.model, Amplifier)
        live.bench.model.relay_in = True
        live.bench.model.dial = 0.6
        live.read_until("+B", 22.0, 26.0)
        assert live.control("fault", name="missing-rail")["ok"]
        live.read_until("+B", 0.0, 0.5)
        assert "gremlins" in live.control("fault", name="gremlins")["why"]
        live.control("fault", name="silent-meter")
        live.wait_for("silent", job="+B")
        live.control("fault", name="healthy")
        live.read_until("+B", 22.0, 26.0)


def test_the_board_can_be_given_a_fault_too() -> None:
    with live_bench("board", speed=50.0, delay=0.001) as live:
        live.line("bench supply").say("VOLT 20,(@1,2)\nCURR 0.4,(@1,2)\nOUTP ON,(@1,2)")
        live.read_until("regulated -", -15.5, -14.5)
        live.control("fault", name="missing-rail")
        live.read_until("regulated -", -0.5, 0.5)


def test_hanging_up_in_the_middle_of_a_reading_harms_nobody() -> None:
    with live_bench(delay=0.02) as live:
        for _ in range(5):
            line = live.another_line("+B")
            line.say("READ?\nREAD?")
            line.close()
        assert live.ask("+B", "*IDN?").startswith("BENCHLOG-SIM")
