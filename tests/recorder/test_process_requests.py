"""What a client may ask, when, and what it is told where it may not: a recorder over a real pipe."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.near import Inside, bench_text, hands, hang_up
from helpers.plans import short_plan
from helpers.stand_ins import volts
from helpers.until import until

from benchlog import resources
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.recorder.framing import UNREADABLE
from benchlog.recorder.messages import (
    Act,
    Answer,
    Arm,
    Cut,
    Hello,
    Kept,
    LoadPlan,
    Message,
    Notice,
    OpenBench,
    Prove,
    Readings,
    Refused,
    Remark,
    Request,
    Take,
)
from benchlog.store import query
from benchlog.store.ids import new_id
from benchlog.store.records import Ending

PLAN = short_plan("board")


@pytest.fixture(scope="module")
def board() -> Iterator[LiveBench]:
    with live_bench("board") as far:
        yield far


@pytest.fixture
def near() -> Iterator[Inside]:
    made = Inside()
    yield made
    made.close()
    assert made.faults == []


def refusal(near: Inside, request: Request) -> str:
    with pytest.raises(BadInput) as caught:
        near.request(request)
    return str(caught.value)


def opened(near: Inside, board: LiveBench) -> None:
    meters = near.open_bench(bench_text(board, "board"), board.bench.speed)
    assert {state for state, _ in meters.values()} == {"open"}


def take(job: str = "parts meter", function: str = "ohms") -> Take:
    return Take(id=0, reading=new_id(), job=job, designator="R101", function=function)


def test_it_says_what_holds_also_where_a_request_was_refused(near: Inside, board: LiveBench) -> None:
    def holds() -> str:
        return near.of(messages.Holds)[-1].what if near.of(messages.Holds) else ""

    opened(near, board)
    near.load(PLAN)
    near.request(Prove(id=0))
    until(lambda: holds() == "proof", "the proof")
    # It takes the plan at hand away before it looks at the new one.
    assert "is missing" in refusal(near, LoadPlan(id=0, text="", place="plan.toml"))
    until(lambda: holds() == "bench", "the bench alone")
    near.load(PLAN)
    until(lambda: holds() == "plan", "the plan")
    refusal(near, OpenBench(id=0, text="", place="bench.toml", profiles=[]))
    until(lambda: holds() == "nothing", "nothing at all")


# --- too early ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("request_", "told"),
    [
        (LoadPlan(id=0, text=PLAN, place="plan.toml"), "load_plan: no bench is open; open one first."),
        (Prove(id=0), "prove: no plan is loaded; load one first."),
        (Arm(id=0, session="x", folder="/"), "arm: no plan is loaded; load one first."),
        (Act(id=0, what="next"), "act: no plan is loaded; load one first."),
        (Remark(id=0, remark="x", text="hum"), "remark: no plan is loaded; load one first."),
        (Cut(id=0), "cut: nothing is armed; if something is on, pull the plug."),
        (take(), "take: no bench is open; open one first."),
        (Answer(id=0, prompt=7), "prompt 7: is not open; it was answered, or its run is over."),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Message) else "",
)
def test_what_comes_too_early_is_refused_with_the_step_that_is_missing(
    near: Inside, request_: Request, told: str
) -> None:
    assert refusal(near, request_) == told


def test_before_arming_only_what_needs_no_run_is_done(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    near.load(PLAN)
    assert refusal(near, Act(id=0, what="next")) == "next: nothing is armed; arm the plan first."
    assert refusal(near, Remark(id=0, remark="x", text="hum")).startswith("note: no run is open")
    said = refusal(near, Arm(id=0, session=new_id(), folder="/nowhere"))
    assert "bench supply: is not proven; prove it first." in said
    near.request(Cut(id=0))
    near.request(Kept(id=0, reading="of nobody"))


# --- bad files ------------------------------------------------------------------------------------


def test_a_bench_file_is_refused_with_all_its_faults_at_once(near: Inside) -> None:
    text = 'file = "benchlog bench 1"\nnme = "x"\n[[meter]]\njob = "lamp"\nprofile = "none"\naddress = "tcp://h"\n'
    with pytest.raises(BadInput) as caught:
        near.open_bench(text, 1.0)
    places = [fault.place for fault in caught.value.faults]
    assert len(places) >= 4
    assert all(place.startswith("bench.toml: ") for place in places)


def test_a_plan_file_is_refused_with_all_its_faults_at_once(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    with pytest.raises(BadInput) as caught:
        near.load(
            PLAN.replace("dwell = 1.0", 'dwell = "long"').replace('kind = "supply"', 'kind = "suply"', 1)
        )
    assert len(caught.value.faults) == 2
    assert all(fault.place.startswith("plan.toml: ") for fault in caught.value.faults)


def test_a_plan_for_another_bench_is_refused(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    text = resources.path("examples", "amplifier", "plan.toml").read_text(encoding="utf-8")
    with pytest.raises(BadInput, match="no meter of the bench has the job 'mains'"):
        near.load(text)
    # The bench is still there for the right one.
    assert near.load(PLAN)["sentences"]


@pytest.mark.parametrize("rate", [0.0, -1.0])
def test_plan_time_that_stands_still_is_refused(near: Inside, board: LiveBench, rate: float) -> None:
    request = OpenBench(id=0, text=bench_text(board, "board"), place="bench.toml", profiles=[], rate=rate)
    assert "plan time cannot run at" in refusal(near, request)


def test_a_relay_whose_port_is_missing_is_refused_and_the_bench_can_be_opened_anew(
    near: Inside, board: LiveBench
) -> None:
    relay = '\n[[off_switch]]\nkind = "relay"\njob = "mains relay"\naddress = "/dev/no-such-port"\n'
    near.open_bench(bench_text(board, "board", relay), board.bench.speed)
    with pytest.raises(BadInput, match="mains relay: /dev/no-such-port cannot be opened"):
        near.load(PLAN)
    opened(near, board)
    assert near.load(PLAN)["player"] == "none"


def test_a_meter_past_its_calibration_is_said_when_the_bench_opens(near: Inside, board: LiveBench) -> None:
    due = bench_text(board, "board").replace('error = "0.3%"', 'error = "0.3%"\ncalibrated = 2001-02-03')
    near.open_bench(due, board.bench.speed)
    notice = near.wait(Notice)
    problem = "was last calibrated on 2001-02-03, longer ago than 12 months"
    assert (notice.place, notice.problem) == ("parts meter", problem)


def test_lines_that_cannot_be_read_are_answered_and_survived(near: Inside) -> None:
    near.say(b"what?\n")
    notice = near.wait(Notice)
    assert notice.problem == UNREADABLE
    near.say(b'{"is":"dance","id":77}\n')
    refused = near.wait(Refused)
    assert (refused.id, refused.faults[0][1]) == (77, UNREADABLE)
    near.say(b'{"is":"hello","version":1}\n')  # Nobody asks for anything by that.
    assert refusal(near, Prove(id=0)).startswith("prove:")
    assert [message for message in near.heard if isinstance(message, Hello)] == []


# --- bench and readings ---------------------------------------------------------------------------


def test_readings_are_published_before_there_is_any_run(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    meters = {message.job: message for message in near.of(messages.Meter)}
    assert meters["bench supply"].identity == "BENCHLOG-SIM,SUPPLY,0,1"
    wanted = {"regulated +", "regulated -", "bench supply 1", "bench supply 2"}

    def seen() -> bool:
        return wanted <= {batch.trace for message in near.of(Readings) for batch in message.batches}

    until(seen, "readings of every meter and output")
    assert near.of(messages.Beat)


def test_a_bench_is_replaced_by_the_next_one(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    near.load(PLAN)
    text = bench_text(board, "board").replace(board.address("regulated -"), "tcp://127.0.0.1:1")
    meters = near.open_bench(text, board.bench.speed)
    assert meters["regulated -"][0] == "refused"
    assert refusal(near, Prove(id=0)) == "prove: no plan is loaded; load one first."


def test_a_plan_is_replaced_by_the_next_one_while_nothing_is_armed(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    near.load(PLAN)
    near.request(Prove(id=0))
    near.load(PLAN)
    said = refusal(near, Arm(id=0, session=new_id(), folder="/nowhere"))
    assert "is not proven" in said


def test_a_meter_on_hold_is_not_believed_and_told_of_once(near: Inside, board: LiveBench) -> None:
    opened(near, board)
    held = volts(44.0, flags=("hold",))
    for reading in (held, held, volts(44.0), held):
        near.recorder._reading("parts meter", reading)
    until(lambda: len(near.events("warn")) == 2, "the warnings")
    assert {event.text for event in near.events("warn")} == {"parts meter shows HOLD: not live"}
    rows: list[float | None] = []

    def all_of_them() -> bool:
        batches = [batch for message in near.of(Readings) for batch in message.batches]
        rows[:] = [row[2] for batch in batches if batch.trace == "parts meter" for row in batch.rows]
        return len(rows) == 4

    until(all_of_them, "the readings")
    assert rows == [None, None, 44.0, None]


# --- a whole run ----------------------------------------------------------------------------------


def test_a_run_goes_from_proof_to_a_kept_session(near: Inside, board: LiveBench, tmp_path: Path) -> None:
    opened(near, board)
    assert "raw + current and raw - current above 120.0 mA: from fault to off at worst" in " ".join(
        near.load(PLAN)["sentences"]
    )
    said = near.request(Prove(id=0))["said"]
    assert said[0].startswith("bench supply: the supply answers: off")
    path = near.arm(tmp_path)
    (recipe,) = near.of(messages.Recipe)
    assert recipe.lines[0][2] == "OUTP OFF,(@1,2)\n"
    for request, told in (
        (OpenBench(id=0, text="", place="", profiles=[]), "open_bench: a run is open; close it first."),
        (LoadPlan(id=0, text=PLAN, place="plan.toml"), "load_plan: a run is open; close it first."),
        (Arm(id=0, session=new_id(), folder=str(tmp_path)), "arm: this run has been armed"),
    ):
        assert refusal(near, request).startswith(told)
    near.act("next")
    near.request(Remark(id=0, remark=new_id(), text="no hum"))
    near.wait(messages.Stage, lambda stage: stage.state == "ready")
    assert refusal(near, Prove(id=0)) == "prove: the unit is on; switch off first."
    near.act("next", 0)
    closed = near.wait(messages.Closed)
    assert (closed.path, closed.outcome, closed.folded) == (str(path), Ending.COMPLETED, True)
    assert near.outcomes() == ["asked", "verified off"]
    assert board.control("state")["outputs"] == [False, False]
    assert query.state(path).outcome == Ending.COMPLETED
    assert [remark.text for remark in query.remarks(path)] == ["no hum"]
    stored: dict[str, int] = {}
    for message in near.of(messages.Stored):
        stored |= message.traces
    kept = {trace.name: query.readings(path, trace.id).seq.tolist() for trace in query.traces(path)}
    for name, last in stored.items():
        assert kept[name][:last] == list(range(1, last + 1))
    # After its close the bench is there for the next one.
    near.load(PLAN)


def test_the_operators_cut_switches_off_and_the_run_ends_as_the_operators(
    near: Inside, board: LiveBench, tmp_path: Path
) -> None:
    near.live(board, "board", tmp_path)
    near.request(Cut(id=0, reason="smells warm"))
    closed = near.wait(messages.Closed)
    assert (closed.outcome, closed.reason) == (Ending.STOPPED, "smells warm")
    assert near.outcomes() == ["asked", "verified off"]
    assert near.events("off")[0].data["was_on"] is True


def test_a_broken_limit_trips_and_the_tail_is_kept(near: Inside, board: LiveBench, tmp_path: Path) -> None:
    plan = PLAN.replace("value = 0.12", "value = 0.001").replace("after_on = 3.0", "after_on = 0.0")
    opened(near, board)
    near.load(plan)
    near.request(Prove(id=0))
    path = near.arm(tmp_path)
    near.act("next")
    trip = near.wait(messages.Trip)
    assert trip.limit == "high"
    assert "more than twice the expected current" in trip.text
    closed = near.wait(messages.Closed)
    assert (closed.outcome, closed.reason) == (Ending.TRIPPED, trip.text)
    off = query.events(path, "off")[0]
    assert off.data["why"] == "trip"
    after = [row for trace in query.traces(path) for row in query.rows(path, trace.id, from_t=off.t)]
    assert after


def test_a_meter_that_is_lost_and_found_in_a_run_is_noted(tmp_path: Path) -> None:
    with live_bench("board") as far:
        near = Inside()
        path = near.live(far, "board", tmp_path, dwell=600.0)
        hang_up(far, "regulated +")
        until(lambda: len([m for m in near.of(messages.Meter) if m.job == "regulated +"]) >= 3, "its return")
        near.close()
        said = [event.text for event in query.events(path, "meter")]
    assert said[:2] == ["regulated +: gone", "regulated +: open"]


def test_a_person_proves_and_powers_up_behind_a_relay(patient_relay: None, tmp_path: Path) -> None:
    with live_bench("amplifier") as far:
        near = Inside(hands(far))
        path = near.live(far, "amplifier", tmp_path)
        assert far.saw("relay", closed=True)
        assert [prompt.kind for prompt in near.of(messages.Prompt)] == [
            "set_dial",
            "relay_clicked",
            "set_dial",
        ]
        near.act("off")
        closed = near.wait(messages.Closed)
        assert (closed.outcome, closed.reason) == (Ending.STOPPED, "ended at stage 10 %")
        assert near.outcomes()[-1] == "verified off"
        far.wait_for("mains", on=False)
        near.close()
    assert query.events(path, "closed")[0].data["off"] == "verified off"
