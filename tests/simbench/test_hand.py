"""The person at the simulated bench: a little later each time, and an alarm goes first."""

import json
from typing import Any

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.until import until

from benchlog.simbench import hand
from benchlog.simbench.amplifier import Amplifier


def model(live: LiveBench) -> Amplifier:
    assert isinstance(live.bench.model, Amplifier)
    return live.bench.model


def prompt(live: LiveBench, kind: str, **about: Any) -> dict[str, Any]:
    return live.control("prompt", kind=kind, **about)


def test_the_dial_is_turned_one_to_five_plan_seconds_after_the_prompt() -> None:
    with live_bench(speed=20.0) as live:
        for fraction in (0.4, 1.0, 0.0):
            answer = prompt(live, "set_dial", fraction=fraction)
            assert answer["yes"] is True
            assert answer["took"] >= 1.0
            assert model(live).dial == pytest.approx(fraction)
            assert live.saw("dial", fraction=fraction)


def test_the_dial_is_turned_and_not_jumped() -> None:
    with live_bench(speed=1.0) as live:
        line = live.another_line("control")
        line.say(json.dumps({"do": "prompt", "kind": "set_dial", "fraction": 1.0}))
        until(lambda: 0.0 < live.control("state")["dial"] < 1.0)
        assert json.loads(line.hear())["yes"] is True
        line.close()


def test_switch_on_switch_off_and_what_an_onlooker_sees() -> None:
    with live_bench("by-hand", speed=20.0) as live:
        assert live.control("state")["switch"] is False
        prompt(live, "set_dial", fraction=1.0)
        answer = prompt(live, "switch_on")
        assert answer["yes"] is True
        assert answer["took"] >= 0.8
        seen = live.control("state")
        assert seen["live"] is True
        assert seen["lamp_watts"] == 60.0
        until(lambda: live.control("state")["lamp"] == "glow")
        until(lambda: live.control("state")["speaker_clicks"] == 1)
        assert prompt(live, "switch_off")["yes"] is True
        assert live.control("state")["live"] is False
        assert [one["on"] for one in live.saw("mains")] == [True, False]


def test_a_hand_turns_no_dial_where_there_is_none() -> None:
    with live_bench("lamp-ladder", speed=50.0) as live:
        answer = prompt(live, "set_dial", fraction=0.4)
        assert (answer["yes"], answer["why"]) == (False, "there is nothing of the kind here")
        assert model(live).dial == 1.0
        assert prompt(live, "fit_lamp", watts=40.0)["yes"] is True
        assert prompt(live, "switch_on")["yes"] is True
        assert live.saw("mains", on=True, dial=1.0)


def test_the_lamp_is_changed_only_while_off() -> None:
    with live_bench("by-hand", speed=50.0) as live:
        assert prompt(live, "fit_lamp", watts=100)["yes"] is True
        assert live.control("state")["lamp_watts"] == 100.0
        prompt(live, "switch_on")
        prompt(live, "set_dial", fraction=0.2)
        refused = prompt(live, "fit_lamp", watts=0)
        assert (refused["yes"], refused["why"]) == (False, "it is live")
        prompt(live, "switch_off")
        assert prompt(live, "fit_lamp", watts=0)["yes"] is True
        assert live.control("state")["lamp"] == "none"


def test_the_alarm_makes_the_hand_switch_off() -> None:
    with live_bench("by-hand", speed=20.0) as live:
        prompt(live, "switch_on")
        prompt(live, "set_dial", fraction=0.5)
        assert live.control("alarm") == {"ok": True}
        live.control("alarm")
        off = live.wait_for("mains", on=False)
        heard = live.saw("alarm")[0]
        assert off["t"] - heard["t"] >= 0.8e9 / 20.0
        assert len(live.saw("hand", why="alarm")) == 1
        assert prompt(live, "heard_alarm")["yes"] is True


def test_the_alarm_takes_the_hand_off_the_dial_but_not_off_the_switch() -> None:
    with live_bench("by-hand", speed=1.0) as live:
        model(live).switched_on = True
        line, other = live.another_line("control"), live.another_line("control")
        line.say(json.dumps({"do": "prompt", "kind": "set_dial", "fraction": 1.0}))
        other.say(json.dumps({"do": "prompt", "kind": "switch_off"}))
        until(lambda: len(live.saw("prompt")) == 2)
        live.control("alarm")
        given_up = json.loads(line.hear())
        assert (given_up["yes"], given_up["why"]) == (False, "the alarm came first")
        assert json.loads(other.hear())["yes"] is True
        live.wait_for("mains", on=False)
        assert model(live).dial < 1.0
        line.close()
        other.close()


def test_an_alarm_while_off_is_only_heard() -> None:
    with live_bench("by-hand", speed=20.0) as live:
        live.control("alarm")
        assert prompt(live, "heard_alarm")["yes"] is True
        assert not live.saw("hand", why="alarm")


def test_what_was_not_heard_is_denied(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hand, "LISTENS", 0.1)
    with live_bench(speed=20.0) as live:
        clicks = prompt(live, "relay_clicked", times=2)
        assert (clicks["yes"], clicks["why"]) == (False, "heard 0 clicks")
        alarm = prompt(live, "heard_alarm")
        assert (alarm["yes"], alarm["why"]) == (False, "heard nothing")


def test_clicks_are_counted_since_the_last_time() -> None:
    with live_bench(speed=20.0) as live:
        assert live.bench.relay is not None
        live.bench.relay.clicks = 2
        assert prompt(live, "relay_clicked", times=2)["yes"] is True
        live.bench.relay.clicks = 5
        answer = prompt(live, "relay_clicked", times=2)
        assert (answer["yes"], answer["why"]) == (False, "heard 3 clicks")


def test_on_the_board_there_is_nothing_to_turn() -> None:
    with live_bench("board") as live:
        assert prompt(live, "set_dial", fraction=0.1)["yes"] is False
        assert prompt(live, "relay_clicked")["why"] == "there is no relay here"
        live.control("alarm")
        assert prompt(live, "heard_alarm")["yes"] is True


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ('{"do": "dance"}', "prompt"),
        ('{"no": 1}', "KeyError"),
        ("[1]", "TypeError"),
        ("{", "JSONDecodeError"),
        ('{"do": "prompt", "kind": "juggle"}', None),
        ('{"do": "prompt", "kind": "set_dial"}', "fraction"),
    ],
)
def test_what_cannot_be_understood_is_answered_so(line: str, why: str | None) -> None:
    with live_bench(speed=20.0) as live:
        answer = json.loads(live.line("control").ask(line))
        if why is None:
            assert answer["yes"] is False
        else:
            assert answer["ok"] is False
            assert why in answer["why"]
