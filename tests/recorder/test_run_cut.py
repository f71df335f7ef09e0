"""However a run ends: the cut leaves first, only the first ending counts, and off is off when it is seen."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from helpers.rig import Rig, break_lamp, in_thread, live, off_event
from helpers.stand_ins import HANG, REFUSED, STILL_LIVE, Switch
from helpers.until import until

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.stages import Order, State
from benchlog.errors import BadInput, BenchlogError, Full
from benchlog.recorder import messages
from benchlog.recorder.clock import wire_now
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.records import Ending
from benchlog.store.records import State as FileState

Make = Callable[..., Rig]


def denied(rig: Rig) -> None:
    """Prove, and be told no."""
    with pytest.raises(BenchlogError, match="set_dial was denied"):
        rig.run.prove()


# --- the cut comes first --------------------------------------------------------------------------


def test_a_broken_limit_switches_off_before_anything_is_told_or_kept(rig: Rig) -> None:
    live(rig)
    relay = rig.switches[0]
    before: list[int] = []
    fire = relay.fire

    def note_and_fire() -> None:
        before.append(len(rig.outbox.of(messages.Trip)) + len(rig.outbox.events("off", "trip")))
        fire()

    relay.fire = note_and_fire  # type: ignore[method-assign]
    break_lamp(rig)
    assert before == [0]
    (trip,) = rig.outbox.of(messages.Trip)
    assert trip.text == "lamp 180.0 V, above its limit of 100.0 V: the unit draws too much"
    assert (trip.trace, trip.limit, trip.value, trip.bound) == ("lamp", "high", 180.0, 100.0)
    assert off_event(rig).data["wire_ns"] >= trip.wire_ns
    assert off_event(rig).data["why"] == "trip"
    assert rig.bell.sounding
    assert rig.state is State.TAIL


def test_the_cut_leaves_although_the_disk_hangs(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    live(rig)
    goes_on = threading.Event()
    hangs = threading.Event()
    append = SessionWriter.append

    def hang(self: SessionWriter, **rows: list[object]) -> None:
        hangs.set()
        goes_on.wait(HANG)
        append(self, **rows)  # type: ignore[arg-type]

    monkeypatch.setattr(SessionWriter, "append", hang)
    rig.run.teller.remark("1", "something to write")
    until(hangs.is_set, "the disk that hangs")
    break_lamp(rig)
    assert rig.fired()
    assert rig.outbox.of(messages.Trip)
    goes_on.set()


def test_the_cut_leaves_although_whoever_decides_hangs(rig: Rig) -> None:
    live(rig)
    rig.run.lock.acquire()
    cut = in_thread(lambda: rig.run.cut("cut by the operator"))
    until(rig.fired, "the cut")
    assert cut.is_alive()
    rig.run.lock.release()
    cut.join(HANG)
    assert off_event(rig).text == "cut by the operator"


def test_the_cut_leaves_although_reading_back_hangs(make: Make) -> None:
    relay, wall = Switch(), Switch("wall switch", "hand", automatic=False)
    relay.hangs = wall.hangs = True
    rig = make(relay, wall)
    live(rig)
    break_lamp(rig)
    assert rig.fired()
    rig.run.cut("cut by the operator")
    assert [switch.did.count("off") for switch in (relay, wall)] == [2, 2]


def test_the_cut_leaves_although_a_person_is_being_asked(rig: Rig) -> None:
    rig.arm()
    rig.run.act("next")
    number = rig.prompt("set_dial")
    rig.run.cut("cut by the operator")
    assert rig.fired()
    with pytest.raises(BadInput, match="is not open"):
        rig.prompts.answer(number, True)
    assert rig.outbox.events("told") == []
    assert "on" not in rig.switches[0].did


# --- only the first ending counts -----------------------------------------------------------------


def test_only_the_first_ending_of_a_run_counts(rig: Rig) -> None:
    path = live(rig)
    break_lamp(rig)
    rig.run.cut("cut by the operator")
    rig.run.leave("benchlog was told to end", Ending.ALONE)
    assert rig.run.ended
    rig.goes_off()
    rig.until(rig.run.closed.is_set, "the end of the tail")
    closed = rig.close()
    assert closed is not None
    assert (closed.outcome, closed.reason) == (Ending.TRIPPED, rig.outbox.of(messages.Trip)[0].text)
    assert len(query.events(path, "off")) == len(query.events(path, "trip")) == 1
    # Every asking for off is sent all the same.
    assert rig.switches[0].did.count("off") == 3


def test_cuts_from_many_threads_make_one_ending(rig: Rig) -> None:
    live(rig)
    threads = [in_thread(lambda number=number: rig.run.cut(f"cut {number}")) for number in range(16)]  # type: ignore[misc]
    for thread in threads:
        thread.join(HANG)
    assert len(rig.outbox.events("off")) == 1
    assert rig.switches[0].did.count("off") == 16


def test_after_a_cut_no_limit_trips_again(rig: Rig) -> None:
    live(rig)
    rig.run.cut("cut by the operator")
    break_lamp(rig)
    assert rig.outbox.of(messages.Trip) == []


def test_an_order_to_go_on_that_comes_too_late_is_not_carried_out(rig: Rig) -> None:
    live(rig)
    rig.run.cut("cut by the operator")
    prompts = len(rig.outbox.of(messages.Prompt))
    rig.run._orders.carry_out(
        [
            Order("ask", "set_dial", "Set it to 100 %.", {"fraction": 1.0}),
            Order("set_supply", data={"volts": 20.0, "limit": 0.1, "protection": 22.0}),
            Order("switch_on"),
        ]
    )
    assert len(rig.outbox.of(messages.Prompt)) == prompts
    assert rig.settings == []
    assert rig.switches[0].did == ["prove", "on", "off"]


def test_a_question_that_a_cut_overtakes_is_taken_back(rig: Rig) -> None:
    live(rig)
    ask = rig.prompts.ask

    def overtaken(kind: str, *given: Any) -> int:
        rig.prompts.ask = ask  # type: ignore[method-assign]
        number = ask(kind, *given)
        rig.run.cut("cut by the operator")
        return number

    rig.until_state(State.READY)
    rig.prompts.ask = overtaken  # type: ignore[assignment,method-assign]
    rig.run.act("next")
    asked = rig.outbox.of(messages.Prompt)[-1]
    assert asked.kind == "set_dial"
    assert rig.outbox.of(messages.Withdrawn)[-1].prompt == asked.prompt
    assert rig.prompts._open == {}


def test_a_question_that_comes_after_the_cut_is_not_asked(rig: Rig) -> None:
    live(rig)
    rig.until_state(State.READY)
    asked = len(rig.outbox.of(messages.Prompt))
    rig.run.cut("cut by the operator")
    # As a thread does that had looked at the ending before the cut.
    rig.run._orders._ask(Order("ask", "switch_on", "Switch the unit on.", {}))
    assert len(rig.outbox.of(messages.Prompt)) == asked
    assert rig.prompts._open == {}


def test_a_switch_on_under_way_ends_after_the_cut_without_consequence(rig: Rig) -> None:
    relay = rig.switches[0]
    relay.holds_on = True
    rig.arm()
    rig.run.act("next")
    rig.answer("set_dial")
    rig.run.cut("cut by the operator")
    relay.on()
    assert rig.state is State.TAIL
    assert rig.run.guard.feed.on_since is None


# --- what trips -----------------------------------------------------------------------------------


def test_a_critical_trace_that_falls_silent_trips(rig: Rig) -> None:
    live(rig)
    rig.silence("lamp", 5.5)
    trip = rig.until(lambda: rig.outbox.of(messages.Trip), "the trip")[0]
    assert (trip.trace, trip.limit, trip.value) == ("lamp", "lost", None)
    assert trip.text.startswith("no reading from lamp for 5.")
    assert rig.fired()


def test_what_no_limit_of_the_plan_says_trips_all_the_same(rig: Rig) -> None:
    path = live(rig)
    rig.run.trip("mains relay", "mains relay: the port broke")
    assert rig.fired()
    (trip,) = rig.outbox.of(messages.Trip)
    assert (trip.trace, trip.limit, trip.text) == (
        "mains relay",
        "beside the plan",
        "mains relay: the port broke",
    )
    rig.goes_off()
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    assert query.state(path).outcome == Ending.TRIPPED


def test_a_unit_that_is_fed_before_its_relay_is_switched_on_trips(rig: Rig) -> None:
    rig.arm()
    rig.run.act("next")
    rig.show(mains=23.0, lamp=0.0, rail=0.0)
    at = wire_now()
    for number in range(2):
        rig.run.reading("mains", Reading(Outcome.OK, 23.0, Function.VOLTS_AC, at + number, "+23"))
    (number,) = [one.prompt for one in rig.outbox.of(messages.Prompt) if one.kind == "set_dial"]
    rig.prompts.answer(number, True)
    (trip,) = rig.outbox.of(messages.Trip)
    why = "mains reads 23.00 V before mains relay was switched on: its contact is welded or bypassed"
    assert (trip.trace, trip.text) == ("mains relay", why)
    assert "on" not in rig.switches[0].did


def test_what_breaks_before_there_is_a_run_ends_the_proof_alone(rig: Rig) -> None:
    rig.run.trip("mains relay", "mains relay: the port broke")
    assert rig.switches[0].did == ["off"]
    assert rig.outbox.of(messages.Trip) == []


def test_without_a_run_nothing_is_switched(rig: Rig) -> None:
    for name in rig.meters:
        rig.read(name)
    break_lamp(rig)
    assert rig.switches[0].did == []
    assert rig.outbox.of(messages.Trip) == []


# --- what came of it ------------------------------------------------------------------------------


def test_an_off_that_the_meters_show_ends_the_tail_in_its_time(make: Make) -> None:
    rig = make()
    rig.switches[0].finds = None
    path = live(rig)
    rig.run.cut("cut by the operator")
    rig.meters |= {"mains": 0.0, "lamp": 0.0}
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    (closed,) = query.events(path, "closed")
    assert (closed.data["off"], closed.data["told_off"]) == ("verified off", False)
    seen = [event for event in query.events(path, "cut") if event.data["outcome"] == "verified off"]
    assert seen[0].text.startswith("mains relay: mains fell to")
    # The tail is counted from the proof, without the time that is added where nobody sees it off.
    assert closed.t - seen[0].t < 60_000_000_000


@pytest.mark.parametrize(("finding", "outcome"), [(STILL_LIVE, "asked, still live"), (REFUSED, "refused")])
def test_an_off_that_never_comes_is_kept_as_it_was(make: Make, finding: object, outcome: str) -> None:
    relay = Switch()
    relay.finds, relay.patient = finding, 0.0  # type: ignore[assignment]
    rig = make(relay)
    path = live(rig)
    rig.run.cut("cut by the operator")
    rig.until(rig.run.closed.is_set, "the end of the longer tail")
    rig.close()
    (closed,) = query.events(path, "closed")
    assert closed.data["off"] == outcome
    assert closed.t - query.events(path, "off")[0].t > 60_000_000_000
    assert query.events(path, "overdue")


def test_meters_that_die_with_the_unit_prove_nothing(make: Make) -> None:
    rig = make()
    rig.switches[0].finds, rig.switches[0].patient = None, 0.0
    path = live(rig)
    rig.meters = dict.fromkeys(rig.meters)
    rig.run.cut("cut by the operator")
    rig.until(rig.run.closed.is_set, "the end of the longer tail")
    rig.close()
    assert query.events(path, "closed")[0].data["off"] == "unknown"
    assert rig.bell.rung.count("sound") >= 1


# --- nobody is left -------------------------------------------------------------------------------


def test_a_run_that_was_never_on_is_closed_at_once_where_nobody_is_left(rig: Rig) -> None:
    path = rig.arm()
    rig.run.leave("the window or terminal of this run ended", Ending.ALONE)
    assert rig.run.closed.is_set()
    assert rig.state is State.CLOSED
    closed = rig.close()
    assert closed is not None
    assert (closed.outcome, closed.reason) == (Ending.ALONE, "the window or terminal of this run ended")
    assert query.events(path, "cut") == ()
    assert rig.switches[0].did == ["prove", "off"]


def test_a_run_that_may_be_on_is_cut_where_nobody_is_left(rig: Rig) -> None:
    live(rig)
    rig.run.leave("benchlog was told to end", Ending.ALONE)
    assert rig.fired()
    assert not rig.run.closed.is_set()
    assert off_event(rig).text == "benchlog was told to end"


def test_a_proof_under_way_is_over_where_nobody_is_left(make: Make) -> None:
    relay = Switch()
    relay.asks = ("set_dial",)
    rig = make(relay)
    proof = in_thread(lambda: denied(rig))
    rig.prompt("set_dial")
    rig.run.leave("benchlog was told to end", Ending.ALONE)
    proof.join(HANG)
    assert not proof.is_alive()
    assert not rig.run.ended


def test_a_cut_before_arming_makes_an_end_of_the_proof_alone(make: Make) -> None:
    relay = Switch()
    relay.asks = ("set_dial",)
    rig = make(relay)
    proof = in_thread(lambda: denied(rig))
    rig.prompt("set_dial")
    rig.run.cut("cut by the operator")
    proof.join(HANG)
    assert relay.did == ["prove", "off"]
    relay.asks = ()
    assert rig.arm().exists()


def test_nothing_is_proven_while_it_is_on_nor_after_its_end(rig: Rig) -> None:
    live(rig)
    with pytest.raises(BadInput, match="the unit is on; switch off first"):
        rig.run.prove()
    rig.run.cut("cut by the operator")
    with pytest.raises(BadInput, match="this run is over"):
        rig.run.prove()


# --- closing --------------------------------------------------------------------------------------


def test_a_run_that_was_never_armed_leaves_nothing_to_close(rig: Rig) -> None:
    assert rig.close() is None


def test_a_run_can_be_closed_before_it_was_on(rig: Rig) -> None:
    rig.arm()
    rig.run.act("close")
    assert rig.run.closed.is_set()
    closed = rig.close()
    assert closed is not None
    assert (closed.outcome, closed.reason) == (Ending.STOPPED, "closed before it was on")


def test_the_operator_ends_at_any_stage(rig: Rig) -> None:
    live(rig)
    rig.run.act("off")
    assert off_event(rig).text == "ended at stage 40 %"
    rig.run.act("close")
    closed = rig.close()
    assert closed is not None
    assert closed.outcome == Ending.STOPPED


def test_a_disk_that_refuses_is_told_of_gravely(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    path = live(rig)
    full = Full(str(path), "no room is left", "make room")

    def refuse(self: SessionWriter, **_: object) -> None:
        raise full

    monkeypatch.setattr(SessionWriter, "append", refuse)
    break_lamp(rig)
    notice = until(lambda: rig.outbox.of(messages.Notice), "the notice")[0]
    assert (notice.place, notice.problem, notice.grave) == (str(path), "no room is left", True)
    closed = rig.close()
    assert closed is not None
    assert (closed.outcome, closed.folded) == (Ending.TRIPPED, False)


def test_a_session_that_could_not_be_closed_is_left_to_the_next_sweep(
    make: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Library.open(tmp_path / "library") as library:
        rig = make()
        rig.folder = library.sessions
        path = live(rig)

        def refuse(self: SessionWriter, *_: object) -> bool:
            raise Full(str(path), "no room is left")

        with monkeypatch.context() as patch:
            patch.setattr(SessionWriter, "close", refuse)
            rig.close()
        library.sweep()
        state = query.state(path)
    assert (state.state, state.outcome) == (FileState.CLOSED, Ending.LOST)
