"""The technician's hands: they lift, land, bounce and slip, the same again with the same seed."""

import json
import math
import random
from collections.abc import Iterator

import pytest
from helpers.live_bench import LiveBench, live_bench

from benchlog.simbench.probes import AIR_FARADS, CHATTER, Probes
from benchlog.simbench.truth import PartTruth

PARTS = ("R101", "R102", "R103", "C101", "ZD101")


@pytest.fixture
def live() -> Iterator[LiveBench]:
    with live_bench("board") as bench:
        yield bench


def test_hands_lift_before_they_land_and_tell_where(live: LiveBench) -> None:
    there = live.control("hands", part="r 101")
    assert there == {"ok": True, "on": "r 101", "slipped": False, "bounces": 0}
    lifted, landed = live.saw("hands")
    assert (lifted["part"], landed["part"]) == ("", "r 101")
    assert (landed["t"] - lifted["t"]) / 1e9 > 0.4 / live.bench.speed
    assert live.bench.probes.designator == "R101"
    assert live.control("hands", part="")["on"] == ""
    assert live.bench.probes.designator == ""


def test_what_there_is_not_is_refused(live: LiveBench) -> None:
    assert "there is no R999" in live.control("hands", part="R999")["why"]
    assert "its dial has: VOLT:DC" in live.control("hands", part="R101", leaves="HFE")["why"]


def test_a_slip_lands_on_a_neighbour_and_says_so(live: LiveBench) -> None:
    for part in PARTS:
        there = live.control("hands", part=part, slips=1.0)
        parts = list(live.bench.truth.parts)
        at = parts.index(part)
        assert there["slipped"]
        assert there["on"] in (parts[at - 1], parts[at + 1])
        assert live.bench.probes.designator == there["on"]


def test_the_same_seed_does_the_same(live: LiveBench) -> None:
    def round_of(bench: LiveBench) -> list[dict[str, object]]:
        return [bench.control("hands", part=part, slips=0.5, bounces=0.5) for part in PARTS]

    first = round_of(live)
    with live_bench("board") as again:
        assert round_of(again) == first
    with live_bench("board", seed=9) as other:
        assert round_of(other) != first


def test_a_dial_left_on_volts_reads_nothing_of_a_resistor(live: LiveBench) -> None:
    live.line("parts meter").say("CONF:RES")
    live.control("hands", part="R101")
    assert live.read_until("parts meter", 4600.0, 4800.0)
    live.control("hands", part="R101", leaves="VOLT:DC")
    assert abs(live.read("parts meter")) < 1.0
    assert live.saw("dial left", function="VOLT:DC")


def test_tips_that_bounce_read_air_for_a_moment_and_what_creeps_starts_far_off() -> None:
    now = [0.0]
    part = PartTruth("R1", ohms=1000.0, settle=2.0, creep=0.5)
    probes = Probes({"R1": part}, lambda: now[0], random.Random(1))
    probes.touch("R1", breaks=((1.0, 1.2),))
    now[0] = CHATTER + 1e-9
    assert probes.look("RES") == pytest.approx(500.06, rel=0.01)
    now[0] = 1.1
    assert math.isinf(probes.look("RES"))
    assert probes.look("CAP") == AIR_FARADS
    now[0] = 1.2
    assert probes.look("RES") < 900.0
    now[0] = 60.0
    assert probes.look("RES") == pytest.approx(1000.12)


def test_hands_that_are_sent_elsewhere_on_the_way_land_there_alone(live: LiveBench) -> None:
    lines = [live.another_line("control") for _ in range(2)]
    try:
        lines[0].say('{"do": "hands", "part": "R101"}')
        live.wait_for("hands", part="")
        for part in ("R102", "R103"):
            lines[1].ask(json.dumps({"do": "hands", "part": part}))
            assert live.bench.probes.designator == part
    finally:
        for line in lines:
            line.close()
    assert not live.saw("hands", part="R101")
