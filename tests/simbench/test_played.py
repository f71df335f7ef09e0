"""A person plays: the controls obey at once, nobody else goes to the switch, an onlooker sees all there is."""

import json
import sys
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench import ear
from benchlog.simbench.lamp import SIZES
from benchlog.simbench.truth import faults


def dial(live: LiveBench) -> float:
    return float(live.control("state")["dial"])


def test_the_dial_follows_a_hand_that_changes_its_mind_on_the_way() -> None:
    with live_bench(speed=1.0) as live:
        assert live.control("turn", fraction=1.1) == {"ok": True}
        until(lambda: dial(live) > 0.1)
        live.control("turn", fraction=0.2)
        until(lambda: dial(live) == 0.2)
        live.wait_for("dial", fraction=0.2)
        assert not live.saw("dial", fraction=1.1)
        live.control("turn", fraction=0)
        until(lambda: dial(live) == 0.0)


@pytest.mark.parametrize("fraction", [-0.01, 1.2, "NaN"])
def test_the_dial_has_two_ends(fraction: float) -> None:
    with live_bench() as live:
        answer = live.control("turn", fraction=fraction)
        assert answer["ok"] is False
        assert answer["why"].endswith("it turns from 0 to 1.1.")


def test_the_switch_is_the_off_switch_of_the_commonest_bench() -> None:
    with live_bench("by-hand", played=True) as live:
        live.control("turn", fraction=1.0)
        assert live.control("state")["live"] is False
        live.control("switch", on=True)
        assert live.control("state")["live"] is True
        until(lambda: live.control("state")["bright"] > 0.0)
        live.control("switch", on=False)
        assert live.control("state")["live"] is False
        assert [one["on"] for one in live.saw("mains")] == [True, False]


def test_beside_a_relay_the_switch_is_in_series_and_closed_from_the_start() -> None:
    with live_bench(played=True) as live:
        seen = live.control("state")
        assert (seen["switch"], seen["relay"], seen["live"]) == (True, False, False)
        live.control("switch", on=False)
        assert live.control("state")["switch"] is False


def test_a_lamp_is_fitted_from_those_that_lie_ready_and_not_while_it_is_live() -> None:
    with live_bench("by-hand", played=True) as live:
        assert live.control("lamp", watts=100) == {"ok": True}
        assert live.control("state")["lamp_watts"] == 100.0
        live.control("switch", on=True)
        live.control("turn", fraction=0.3)
        until(lambda: dial(live) > 0.0)
        assert live.control("lamp", watts=40)["why"] == "lamp: it is live; switch off first."
        live.control("switch", on=False)
        assert live.control("lamp", watts=0) == {"ok": True}
        assert live.control("state")["lamp"] == "none"
        assert live.control("lamp", watts=75)["why"].startswith(
            "lamp: there is none of 75 W; there are: 40, "
        )


def test_an_alarm_is_counted_and_nobody_goes_to_the_switch_by_himself() -> None:
    with live_bench("by-hand", played=True, speed=50.0) as live:
        live.control("switch", on=True)
        live.control("turn", fraction=1.0)
        seen = live.control("state")
        assert (seen["alarms"], seen["since_alarm"]) == (0, None)
        live.control("alarm")
        live.control("alarm")
        seen = live.control("state")
        assert seen["alarms"] == 2
        assert 0.0 <= seen["since_alarm"] < 30.0
        # Twice as long as the simulated hand would take at most.
        began = live.bench.plan_now()
        until(lambda: live.bench.plan_now() > began + 4.0)
        assert live.control("state")["live"] is True
        assert not live.saw("hand")


def test_it_names_what_there_is_and_which_fault_plays() -> None:
    with live_bench("by-hand", "runaway") as live:
        names = live.control("names")
        assert names["example"] == "by-hand"
        assert {"R101", "Q202BC"} <= set(names["parts"])
        assert names["faults"] == list(faults("by-hand"))
        assert names["fault"] == "runaway"
        assert names["controls"] == ["dial", "switch", "lamp"]
        assert names["lamps"] == list(SIZES)
        live.control("fault", name="healthy")
        assert live.control("names")["fault"] == "healthy"


def test_where_there_is_no_variable_transformer_a_lamp_is_changed_and_nothing_is_turned() -> None:
    with live_bench("lamp-ladder", speed=20.0, played=True) as live:
        names = live.control("names")
        assert names["controls"] == ["switch", "lamp"]
        assert names["lamps"] == list(SIZES)
        refused = live.control("turn", fraction=0.4)
        assert (refused["ok"], refused["why"].split(":")[0]) == (False, "dial")
        seen = live.control("state")
        assert (seen["switch"], seen["lamp_watts"]) == (False, 100.0)
        live.control("lamp", watts=40)
        live.control("switch", on=True)
        until(lambda: live.control("state")["lamp"] == "glow")
        assert live.control("lamp", watts=60)["ok"] is False
        assert live.control("state")["lamp_watts"] == 40.0
        live.control("switch", on=False)
        live.control("lamp", watts=60)
        assert live.control("state")["lamp_watts"] == 60.0


def test_on_the_board_an_onlooker_sees_the_supply_and_there_is_nothing_to_turn() -> None:
    with live_bench("board") as live:
        assert live.control("names")["controls"] == []
        seen = live.control("state")
        assert (seen["outputs"], seen["volts"], seen["amps"]) == ([False] * 2, [0.0] * 2, [0.0] * 2)
        asked: dict[str, dict[str, object]] = {
            "turn": {"fraction": 0.1},
            "switch": {"on": True},
            "lamp": {"watts": 40},
        }
        for do, about in asked.items():
            answer = live.control(do, **about)
            assert answer["why"].endswith("there is none on this bench.")


def test_which_way_round_the_leads_are_can_be_seen() -> None:
    with live_bench() as live:
        for side, turned in (("", False), ("reverse", True)):
            live.control("probe", part="R101", side=side)
            seen = live.control("state")
            assert (seen["probing"], seen["turned_round"]) == ("R101", turned)


def test_an_answer_carries_the_id_of_its_request_and_may_come_after_later_ones() -> None:
    with live_bench(speed=1.0) as live:
        line = live.another_line("control")
        line.say(json.dumps({"do": "probe", "part": "R101", "id": 7}))
        line.say(json.dumps({"do": "state", "id": 8}))
        line.say(json.dumps({"do": "dance", "id": 9}))
        answers = [json.loads(line.hear()) for _ in range(3)]
        assert [(one["id"], one["ok"]) for one in answers] == [(8, True), (9, False), (7, True)]
        line.close()


def test_beside_telling_the_bench_the_ear_lets_a_real_player_sound(tmp_path: Path) -> None:
    played = tmp_path / "played"
    player = [sys.executable, "-c", "import pathlib, sys; pathlib.Path(sys.argv[1]).touch()", str(played)]
    with live_bench(played=True) as live:
        assert ear.main([live.bench.control.address, "--", *player]) == 0
        assert played.exists()
        assert ear.main([live.bench.control.address, "--", "/no/such/player"]) == 0
        assert live.control("state")["alarms"] == 2


def test_a_trimmer_that_is_turned_moves_what_it_sets_and_stands_where_it_was_left() -> None:
    with live_bench("amplifier", speed=20.0, played=True) as live:
        live.control("trim", preset="idle left", to=0.5)
        live.control("trim", preset="offset right", to=-0.02)
        presets = live.control("state")["presets"]
        assert (presets["idle left"], presets["offset right"], presets["idle right"]) == (0.5, -0.02, 1.0)
        for preset, to, why in (("idle middle", 1.0, "there is no"), ("idle left", 9.0, "beyond its end")):
            refused = live.control("trim", preset=preset, to=to)
            assert (refused["ok"], why in refused["why"]) == (False, True)
