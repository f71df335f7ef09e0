"""A run from its arming to its end: refused with reasons, led stage by stage, kept as it happened."""

from collections.abc import Callable
from pathlib import Path

import pytest
from helpers.rig import Rig, in_thread, live, off_event
from helpers.stand_ins import Switch, volts
from helpers.watched import AMPS, BENCH_SUPPLY, STATE, VOLTS

from benchlog.domain.guard import Guard
from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.stages import State
from benchlog.errors import BadInput, Fault, Full, StoreError
from benchlog.recorder import arming, messages
from benchlog.recorder import run as running
from benchlog.recorder.clock import SECOND, wire_now
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.records import Ending
from benchlog.store.records import State as FileState

Make = Callable[..., Rig]


def problems(caught: pytest.ExceptionInfo[BadInput]) -> list[str]:
    return [f"{fault.place} {fault.problem}" for fault in caught.value.faults]


# --- arming ---------------------------------------------------------------------------------------


def test_arming_opens_a_session_that_holds_what_it_ran_with(rig: Rig) -> None:
    path = rig.arm()
    head = query.state(path).head
    assert (head.title, head.plan_name, head.plan) == ("a plan", "a plan", rig.text)
    assert (head.unit, head.visit, head.bench, head.rate) == ("u", "v", "bench text", 100.0)
    assert [(trace.id, trace.name) for trace in query.traces(path)] == [(1, "mains"), (2, "lamp"), (3, "+B")]
    rig.until(lambda: query.events(path, "armed"), "the event")
    assert query.anchors(path)[0].t == 0


def test_arming_is_refused_with_every_reason_at_once(make: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arming, "FRESH", 0.05)
    rig = make(Switch("mains relay"), Switch("wall switch", "hand", automatic=False))
    with pytest.raises(BadInput) as caught:
        rig.run.arm(rig.request(), bench="", profiles={}, program="")
    assert problems(caught) == ["mains relay is not proven", "wall switch is not proven"]
    rig.run.prove()
    with pytest.raises(BadInput) as caught:
        rig.run.arm(rig.request(), bench="", profiles={}, program="")
    assert problems(caught) == [f"{name} gives no reading" for name in ("mains", "lamp", "+B")]
    assert caught.value.faults[-1].fix == "check the meter '+B'"
    assert rig.run.session is None


def test_arming_waits_for_a_meter_that_is_slow(rig: Rig) -> None:
    rig.run.prove()
    rig.read("mains")
    rig.read("+B")
    armed = in_thread(lambda: rig.run.arm(rig.request(), bench="", profiles={}, program=""))
    armed.join(0.05)
    assert armed.is_alive()
    rig.read("lamp")
    armed.join(30.0)
    assert rig.run.session is not None


def test_a_cut_while_arming_waits_for_a_meter_ends_the_arming(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_meanwhile(guard: Guard) -> list[Fault]:
        rig.run.cut("cut by the operator")
        return arming.without_reading(guard)

    monkeypatch.setattr(running, "without_reading", cut_meanwhile)
    with pytest.raises(BadInput, match="it was cut while its meters or an earlier run"):
        rig.arm()
    assert rig.run.session is None


def test_a_reading_of_long_ago_is_none(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    rig.run.prove()
    for name in rig.meters:
        rig.read(name)
    rig.silence("lamp", arming.FRESH + 1.0)
    monkeypatch.setattr(arming, "FRESH", 0.05)
    for name in rig.meters:
        rig.read(name)
    with pytest.raises(BadInput) as caught:
        rig.run.arm(rig.request(), bench="", profiles={}, program="")
    assert "lamp gives no reading" in problems(caught)


def test_a_meter_that_is_not_critical_may_be_missing(make: Make) -> None:
    sink = "name='sink L', role='sink', critical=false"
    rig = make(traces=("name='lamp', role='lamp'", sink), limits=())
    rig.meters["sink L"] = None
    assert rig.arm().exists()


def test_a_run_is_armed_once(rig: Rig) -> None:
    rig.arm()
    with pytest.raises(BadInput, match="this run has been armed; load the plan again"):
        rig.arm()


def test_a_folder_that_cannot_hold_a_session_leaves_the_run_to_be_armed_elsewhere(
    rig: Rig, tmp_path: Path
) -> None:
    rig.folder = tmp_path / "a file"
    rig.folder.write_text("in the way")
    with pytest.raises(StoreError):
        rig.arm()
    assert rig.run.session is None
    rig.folder = tmp_path / "elsewhere"
    assert rig.arm().parent == rig.folder


def test_a_disk_that_is_full_while_arming_leaves_nothing_locked(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: SessionWriter, _: object) -> None:
        raise Full(str(self.path), "no room is left")

    request = rig.request()
    with monkeypatch.context() as patch:
        patch.setattr(SessionWriter, "declare", refuse)
        rig.run.prove()
        for name in rig.meters:
            rig.read(name)
        with pytest.raises(Full):
            rig.run.arm(request, bench="", profiles={}, program="")
    assert rig.run.session is None
    assert not list(rig.folder.glob("*.lock"))
    assert rig.arm().exists()


# --- readings -------------------------------------------------------------------------------------


def test_a_reading_is_placed_by_meter_channel_and_function(make: Make) -> None:
    rig = make(
        traces=(VOLTS, AMPS, STATE),
        limits=(),
        source=BENCH_SUPPLY,
        stages=("name='10 V', volts=10.0, current_limit=0.2, dwell=1.0",),
    )
    path = rig.arm()
    at = wire_now()
    for function, value in (
        (Function.AMPS_DC, 0.06),
        (Function.VOLTS_DC, 10.0),
        (Function.STATE, 1.0),
    ):
        assert rig.run.reading("bench supply", Reading(Outcome.OK, value, function, at, "", channel="1"))
        # The other output is nobody's trace, and no news either.
        assert rig.run.reading("bench supply", Reading(Outcome.OK, 77.0, function, at, "", channel="2"))
    assert not rig.run.reading("parts meter", volts(4.7))
    rig.close()
    last = {trace.name: query.rows(path, trace.id)[-1].value for trace in query.traces(path)}
    assert last == {"volts": 10.0, "amps": 0.06, "state": 1.0}
    assert query.events(path, "wrong function") == ()


def test_a_meter_left_on_another_function_is_told_of_once_and_gives_no_number(rig: Rig) -> None:
    path = rig.arm()
    for _ in range(3):
        assert rig.run.reading("lamp", volts(5.0, raw="+5.0E0"))
        assert rig.run.reading("lamp", volts(None))
    rig.close()
    (told,) = query.events(path, "wrong function")
    assert told.text == "lamp reads volts_dc where lamp wants volts_ac: not kept"
    doubt = "wrong function: volts_dc"
    assert told.data == {"trace": "lamp", "doubt": doubt, "job": "lamp", "raw": "+5.0E0"}
    assert {row.value for row in query.rows(path, 2)} <= {0.0, None}
    assert query.rows(path, 2)[-1].outcome == "wrong function"
    assert rig.run.guard.traces["lamp"].doubt == doubt


def test_arming_says_of_a_meter_on_hold_why_it_gives_no_reading(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arming, "FRESH", 0.05)
    rig.run.prove()
    for name in rig.meters:
        rig.read(name)
    rig.silence("lamp", arming.FRESH + 1.0)
    held = Reading(Outcome.NOT_LIVE, None, Function.VOLTS_AC, wire_now(), "+9.2 V AC HOLD", flags=("hold",))
    rig.run.reading("lamp", held)
    with pytest.raises(BadInput) as caught:
        rig.run.arm(rig.request(), bench="", profiles={}, program="")
    assert "lamp is not believed, not live: HOLD" in problems(caught)


def test_a_clip_that_falls_off_is_said_once_kept_without_a_value_and_holds_the_next_stage_back(
    rig: Rig,
) -> None:
    path = live(rig)
    feed, clock = rig.run.guard.feed, rig.clock
    rig.until(
        lambda: feed.steady_since is not None and clock.now() - feed.steady_since > 6 * SECOND, "its rest"
    )
    good, rig.meters["lamp"] = rig.meters["lamp"], 0.0
    for _ in range(3):
        rig.read("lamp")
    with pytest.raises(BadInput, match="lamp to be believed"):
        rig.run.act("next")
    trace = rig.run.guard.traces["lamp"]
    assert (trace.value, trace.doubt) == (good, "clip off?")
    rig.meters["lamp"] = good
    rig.read("lamp")
    assert trace.doubt == ""
    rig.close()
    (told,) = [event for event in query.events(path, "warn") if event.data.get("trace") == "lamp"]
    assert told.data["doubt"] == "clip off?"
    (again,) = query.events(path, "trust")
    assert (again.text, again.data["doubt"]) == ("lamp is believed again, no longer: clip off?", "")
    kept = [(row.value, row.outcome) for row in query.rows(path, 2)]
    assert kept[-4:] == [(None, "clip off?")] * 3 + [(good, "ok")]


def test_what_is_no_number_is_kept_with_its_outcome(rig: Rig) -> None:
    path = rig.arm()
    for outcome in (Outcome.MISSING, Outcome.OVERLOAD):
        rig.meters["+B"] = outcome
        rig.read("+B")
    rig.close()
    kept = [(row.value, row.outcome) for row in query.rows(path, 3)]
    assert kept[-2:] == [(None, "missing"), (None, "overload")]


# --- the way up -----------------------------------------------------------------------------------


def test_a_healthy_run_goes_up_by_stages_off_and_through_its_tail(rig: Rig) -> None:
    path = rig.arm()
    rig.go_up(92.0)
    rig.until_state(State.READY)
    rig.go_up(230.0)
    rig.until_state(State.READY)
    rig.run.act("next")
    assert rig.state is State.TAIL
    rig.goes_off()
    rig.until(rig.run.closed.is_set, "the end of the tail")
    closed = rig.close()
    assert closed == messages.Closed(
        path=str(path), outcome=Ending.COMPLETED, reason="all stages done", folded=True
    )
    assert rig.switches[0].did == ["prove", "on", "off"]
    said = [event.text for event in query.events(path, "stage")]
    assert said[0] == "40 %: setting"
    assert said[-1] == "100 %: closed"
    assert "100 %: ready" in said
    assert query.events(path, "off")[0].data["was_on"] is True
    assert [event.data["off"] for event in query.events(path, "closed")] == ["verified off"]
    assert query.state(path).state is FileState.CLOSED
    assert len(query.anchors(path)) >= 2


def test_where_the_run_stands_is_published_with_what_it_waits_for(make: Make) -> None:
    waits = "wait=[{trace='+B', low=13.0, high=15.0, seconds=1.0}]"
    rig = make(stages=(f"name='40 %', fraction=0.4, dwell=5.0, {waits}",))
    rig.arm()
    rig.go_up(92.0)
    rig.meters["+B"] = 10.0
    count = len(rig.outbox.of(messages.Stage))
    rig.until(lambda: len(rig.outbox.of(messages.Stage)) > count + 1, "more of the same stage")
    stage = rig.outbox.of(messages.Stage)[-1]
    assert (stage.name, stage.index) == ("40 %", 0)
    assert [(what, holds) for what, holds, _ in stage.waits][1] == ("+B between 13.00 V and 15.00 V", False)
    rig.meters["+B"] = 14.0
    rig.until_state(State.READY)


def test_going_up_before_the_end_of_a_dwell_is_noted(make: Make) -> None:
    rig = make(stages=("name='40 %', fraction=0.4, dwell=600.0", "name='100 %', fraction=1.0, dwell=1.0"))
    path = rig.arm()
    rig.go_up(92.0)
    rig.run.act("next", 0)
    rig.close()
    asked = query.events(path, "asked")[-1]
    assert asked.text.endswith("s before the end of the dwell")
    assert 0.0 < asked.data["early"] <= 600.0


def test_a_run_can_be_held_resumed_and_taken_back(rig: Rig) -> None:
    rig.arm()
    rig.go_up(92.0)
    rig.run.act("hold")
    assert rig.state is State.HELD
    rig.run.act("resume")
    rig.until_state(State.READY)
    rig.go_up(230.0)
    rig.run.act("back")
    assert rig.outbox.of(messages.Prompt)[-1].text == "Set the variable transformer to 40 %, 92 V."
    rig.answer("set_dial")
    assert rig.run.stages.index == 0


@pytest.mark.parametrize("act", ["hold", "resume", "back", "off"])
def test_an_act_that_does_not_fit_the_state_is_refused(rig: Rig, act: str) -> None:
    rig.arm()
    with pytest.raises(BadInput, match=f"{act}: the run is standing"):
        rig.run.act(act)


def test_an_act_that_nobody_knows_is_refused_with_those_there_are(rig: Rig) -> None:
    rig.arm()
    with pytest.raises(BadInput, match="jump: is nothing a run can do; use next, back, hold"):
        rig.run.act("jump")


def test_nothing_can_be_done_before_the_run_is_armed(rig: Rig) -> None:
    with pytest.raises(BadInput, match="nothing is armed"):
        rig.run.act("next")


def test_a_key_pressed_twice_does_not_go_up_twice(rig: Rig) -> None:
    rig.arm()
    rig.go_up(92.0)
    rig.until_state(State.READY)
    rig.run.act("next", 0)
    with pytest.raises(BadInput, match="the run has moved on to another stage"):
        rig.run.act("next", 0)


def test_a_dial_that_was_not_turned_leaves_the_run_where_it_was(rig: Rig) -> None:
    rig.arm()
    rig.run.act("next")
    rig.answer("set_dial", yes=False)
    assert rig.state is State.STANDING
    rig.go_up(92.0)
    rig.until_state(State.READY)
    rig.run.act("next")
    rig.answer("set_dial", yes=False)
    assert rig.state is State.HELD
    assert rig.outbox.events("told")[0].text == "told: set dial not done"


def test_a_unit_that_was_not_switched_on_stays_off(rig: Rig) -> None:
    rig.switches[0].fault = "mains relay: the port broke."
    rig.arm()
    rig.run.act("next")
    rig.answer("set_dial")
    assert rig.state is State.STANDING
    assert rig.outbox.events("on")[0].text == "mains relay: the port broke."
    assert rig.switches[0].did == ["prove", "on", "off"]


def test_off_before_anybody_has_said_that_it_is_on_is_followed_as_if_it_were(make: Make) -> None:
    rig = make(Switch(automatic=False))
    rig.arm()
    rig.run.act("next")
    rig.answer("set_dial")
    rig.until_state(State.SWITCHING_ON)
    rig.run.act("off")
    assert off_event(rig).data["was_on"] is True
    assert not rig.run.proven_off


def test_a_source_that_is_turned_unasked_is_noticed(rig: Rig) -> None:
    rig.arm()
    rig.go_up(92.0)
    rig.until_state(State.READY)
    rig.meters["mains"] = 150.0
    rig.until(lambda: rig.outbox.events("moving"), "the move")
    rig.until(lambda: len(rig.outbox.events("steady")) > 1, "its end")


def test_a_source_that_will_not_come_to_rest_is_told_of_and_watched_all_the_same(rig: Rig) -> None:
    rig.arm()
    rig.go_up(92.0)
    rig.meters["mains"] = 150.0
    rig.until(lambda: rig.outbox.events("moving"), "the move")
    swings = iter(range(1_000_000))

    def swung() -> bool:
        rig.meters["mains"] = 120.0 + 40.0 * (next(swings) % 2)
        return any("will not come to rest" in event.text for event in rig.outbox.events("warn"))

    rig.until(swung, "the warning")
    assert not rig.fired()


def test_what_warns_is_told_and_kept_and_goes_on(rig: Rig) -> None:
    rig.arm()
    rig.go_up(92.0)
    rig.meters["+B"] = 47.0
    warned = rig.until(lambda: rig.outbox.events("warn"), "the warning")[0]
    assert warned.text == "+B 47.00 V, above its limit of 46.00 V"
    assert warned.data == {"trace": "+B", "limit": "high", "value": 47.0}
    assert not rig.fired()
