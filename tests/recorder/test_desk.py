"""A bench file come alive: every instrument opened for itself, off-switches made from it, a supply set safely."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.stand_ins import HANG, Bell
from helpers.until import until

from benchlog import resources
from benchlog.domain.reading import Reading
from benchlog.errors import BadInput, LinkError
from benchlog.recorder.cut import OffSwitch
from benchlog.recorder.desk import Desk

FAR_HANDS = """
[[off_switch]]
kind = "hand"
job = "wall switch"
"""


class Opened:
    """A desk over a bench text, and what its instruments say."""

    def __init__(self, text: str, folders: list[Path] | None = None) -> None:
        self.readings: list[tuple[str, Reading]] = []
        self.states: list[tuple[str, str]] = []
        self.told: list[str] = []
        self.bell = Bell()
        self.desk = Desk(
            text,
            "bench.toml",
            folders or [],
            20.0,
            lambda job, reading: self.readings.append((job, reading)),
            lambda job, state, _: self.states.append((job, state)),
        )

    def switches(self) -> list[OffSwitch]:
        return self.desk.switches(self.bell, "paplay", lambda: True)

    def wait_told(self) -> str:
        return until(lambda: self.told, "what came of it").pop()


Open = Callable[..., Opened]


@pytest.fixture
def opened() -> Iterator[Open]:
    made: list[Opened] = []

    def open_desk(text: str, folders: list[Path] | None = None) -> Opened:
        made.append(Opened(text, folders))
        return made[-1]

    yield open_desk
    for one in made:
        one.desk.close()


@pytest.fixture
def board() -> Iterator[LiveBench]:
    with live_bench("board") as far:
        yield far


def bench_text(far: LiveBench, example: str, more: str = "") -> str:
    """The example's bench with the far end's addresses."""
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    for job, address in far.bench.addresses.items():
        text = text.replace(json.dumps(f"simulated:{job}"), json.dumps(address))
    return text + more


def test_every_instrument_is_opened_and_read_in_its_own_thread(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    states = here.desk.wait_open()
    assert {job: state for job, (state, _) in states.items()} == dict.fromkeys(
        ("regulated +", "regulated -", "parts meter", "bench supply"), "open"
    )
    assert states["bench supply"][1] == "BENCHLOG-SIM,SUPPLY,0,1"
    until(lambda: {job for job, _ in here.readings} >= {"regulated +", "regulated -", "bench supply"})
    assert all(here.desk.quiet_for(job) < HANG for job in states)
    assert here.desk.quiet_for("another meter") == float("inf")
    assert set(here.desk.profile_texts) == {"scpi-multimeter", "scpi-supply"}
    assert "connections = 2" in here.desk.profile_texts["scpi-supply"]


def test_an_address_nobody_answers_on_is_refused_and_the_others_open(board: LiveBench, opened: Open) -> None:
    text = bench_text(board, "board").replace(json.dumps(board.address("regulated -")), '"tcp://127.0.0.1:1"')
    here = opened(text)
    states = here.desk.wait_open()
    assert states["regulated -"] == ["refused", "nobody listens at 127.0.0.1 port 1"]
    assert states["regulated +"][0] == "open"


def test_a_bench_that_cannot_be_understood_is_refused_with_every_fault(opened: Open) -> None:
    text = 'file = "benchlog bench 1"\nname = "x"\n[[meter]]\njob = "lamp"\nprofile = "none"\naddress = "tcp://h"\n'
    with pytest.raises(BadInput) as caught:
        opened(text)
    assert len(caught.value.faults) == 2
    assert all(fault.place.startswith("bench.toml: meter[1].") for fault in caught.value.faults)


def test_profiles_of_the_persons_own_come_first(board: LiveBench, opened: Open, tmp_path: Path) -> None:
    own = resources.path("profiles", "scpi-supply.toml").read_text(encoding="utf-8") + "# my own\n"
    (tmp_path / "scpi-supply.toml").write_text(own, encoding="utf-8")
    here = opened(bench_text(board, "board"), [tmp_path])
    assert here.desk.profile_texts["scpi-supply"] == own


def test_a_part_is_taken_with_a_meter_of_the_bench(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    assert here.desk.walking("parts meter").job == "parts meter"
    with pytest.raises(BadInput, match="no meter 'bench supply'; it has parts meter, regulated"):
        here.desk.walking("bench supply")


def test_a_bench_without_meters_says_so(opened: Open) -> None:
    text = 'file = "benchlog bench 1"\nname = "x"\n[[supply]]\njob = "s"\nprofile = "scpi-supply"\naddress = "tcp://127.0.0.1:1"\n'
    with pytest.raises(BadInput, match="it has none"):
        opened(text).desk.walking("lamp")


# --- off-switches ---------------------------------------------------------------------------------


def test_a_supply_and_a_hand_become_off_switches(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board", FAR_HANDS))
    here.desk.wait_open()
    supply, hand = here.switches()
    assert (supply.name, supply.kind, supply.automatic) == ("bench supply", "supply", True)
    assert (hand.name, hand.kind, hand.automatic) == ("wall switch", "hand", False)
    assert "the supply answers: off" in supply.prove(lambda *_: False)
    hand.fire()
    assert here.bell.sounding


def test_a_relay_becomes_an_off_switch_and_drops_when_it_is_let_go(opened: Open) -> None:
    with live_bench("amplifier") as far:
        here = opened(bench_text(far, "amplifier"))
        (relay,) = here.switches()
        assert (relay.name, relay.kind) == ("mains relay", "relay")
        relay.switch_on(here.told.append)
        assert here.told == [""]
        far.wait_for("relay", closed=True)
        here.desk.let_go()
        far.wait_for("relay", closed=False)
        assert here.desk.recipe() == []


def test_an_off_switch_whose_wire_cannot_be_opened_is_told_of(opened: Open) -> None:
    text = (
        'file = "benchlog bench 1"\nname = "x"\n'
        '[[meter]]\njob = "lamp"\nprofile = "scpi-multimeter"\naddress = "tcp://127.0.0.1:1"\n'
        '[[off_switch]]\nkind = "relay"\njob = "mains relay"\naddress = "/dev/no-such-port"\n'
    )
    with pytest.raises(LinkError, match="cannot be opened"):
        opened(text).switches()


def test_off_switches_are_made_anew_with_every_plan(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    (first,) = here.switches()
    (second,) = here.switches()
    assert first is not second
    assert "the supply answers: off" in second.prove(lambda *_: False)


def test_a_recorder_that_dies_leaves_the_recipe_of_a_network_cut(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board", FAR_HANDS))
    port = int(board.address("bench supply").split("::")[2])
    off = "0,0|0,OFF|OFF,0|OFF,OFF"
    volts = ["MEAS:VOLT? (@1)\n", "MEAS:VOLT? (@2)\n"]
    assert here.desk.recipe() == [("127.0.0.1", port, "OUTP OFF,(@1,2)\n", "OUTP? (@1,2)\n", off, volts)]


def test_a_supply_on_a_serial_line_cannot_be_cut_by_another_process(board: LiveBench, opened: Open) -> None:
    text = bench_text(board, "board").replace(
        "interval = 0.1\n", 'interval = 0.1\ncut_address = "/dev/null"\n'
    )
    assert opened(text).desk.recipe() == []


# --- setting a supply -----------------------------------------------------------------------------


def orders(board: LiveBench) -> list[str]:
    """What the supply was told that changes it, but for clearing its errors."""
    told = [str(one["text"]) for one in board.saw("command", job="bench supply")]
    return [text for text in told if "?" not in text and text != "*CLS"]


def test_a_supply_is_set_so_that_its_protection_never_fires_on_the_way(
    board: LiveBench, opened: Open
) -> None:
    here = opened(bench_text(board, "board"))
    here.desk.wait_open()
    set_supply = here.desk.supply_setter("bench supply")
    set_supply(10.0, 0.2, 11.0, here.told.append)
    assert here.wait_told() == ""
    up = orders(board)
    assert [order.split()[0] for order in up] == ["CURR", "VOLT:PROT", "VOLT"] * 2
    set_supply(5.0, 0.2, 5.5, here.told.append)
    assert here.wait_told() == ""
    down = orders(board)[len(up) :]
    assert [order.split()[0] for order in down] == ["CURR", "VOLT", "VOLT:PROT"] * 2
    set_supply(6.0, 0.2, 0.0, here.told.append)
    assert here.wait_told() == ""
    assert not any("PROT" in order for order in orders(board)[len(up) + len(down) :])


def test_a_setting_the_supply_does_not_take_is_told_in_a_sentence(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    here.desk.wait_open()
    here.desk.supply_setter("bench supply")(500.0, 0.2, 0.0, here.told.append)
    assert here.wait_told().startswith("bench supply: ")


def test_a_supply_that_is_gone_cannot_be_set_and_says_so(board: LiveBench, opened: Open) -> None:
    text = bench_text(board, "board").replace(
        json.dumps(board.address("bench supply")), '"tcp://127.0.0.1:1"'
    )
    here = opened(text)
    here.desk.wait_open()
    here.desk.supply_setter("bench supply")(10.0, 0.2, 0.0, here.told.append)
    assert "nobody listens" in here.wait_told()


def test_a_supply_is_switched_on_over_its_own_connection_and_off_over_the_cuts(
    board: LiveBench, opened: Open
) -> None:
    here = opened(bench_text(board, "board"))
    here.desk.wait_open()
    (supply,) = here.switches()
    supply.prove(lambda *_: False)
    supply.switch_on(here.told.append)
    assert here.wait_told() == ""
    assert board.control("state")["outputs"] == [True, True]
    supply.fire()
    board.wait_for("output", output=2, on=False)


def test_a_supply_that_was_cut_before_its_turn_is_not_switched_on(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    here.desk.wait_open()
    (supply,) = here.switches()
    supply.switch_on(here.told.append)
    supply.fire()
    said = here.wait_told()
    # Whichever came first: it is off, and nobody is told that it is on without a cut behind it.
    assert (
        said == "" or "was cut before it was switched on" in said or "was cut as it was switched on" in said
    )
    until(lambda: board.control("state")["outputs"] == [False, False], "off")
    assert orders(board)[-1] == "OUTP OFF,(@1,2)"


def test_a_supply_that_is_off_because_it_was_cut_meanwhile_says_that(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    here.desk.wait_open()
    # A protection that fired keeps it off, as a cut does that comes between the order and the look at it.
    board.ask("bench supply", "VOLT 20,(@1,2);CURR 1,(@1,2);VOLT:PROT 1,(@1,2);OUTP ON,(@1,2);*OPC?")
    until(lambda: board.ask("bench supply", "VOLT:PROT:TRIP? (@1,2)") == "1,1", "its protection")
    looks = iter([False, True])
    here.desk._turn_on("bench supply", lambda: next(looks), here.told.append)
    assert "was cut as it was switched on" in here.wait_told()


def test_a_cut_that_is_there_before_the_order_keeps_the_supply_off(board: LiveBench, opened: Open) -> None:
    here = opened(bench_text(board, "board"))
    here.desk.wait_open()
    here.desk._turn_on("bench supply", lambda: True, here.told.append)
    assert "was cut before it was switched on" in here.wait_told()
    assert orders(board) == []
