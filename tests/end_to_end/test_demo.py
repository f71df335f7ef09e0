"""The whole job on each bench, healthy and with each fault: how it ends, why, in which order, what it leaves."""

import pytest
from helpers.demo_run import SPEED, Case, DemoRun

from benchlog.store import query, query_unit
from benchlog.store.records import State

pytestmark = pytest.mark.timeout(600)

STAGES = {
    "amplifier": ["10 %", "20 %", "40 %", "60 %", "80 %", "100 %"],
    "by-hand": ["40 %", "70 %", "100 %"],
    "lamp-ladder": ["40 W lamp", "60 W lamp", "100 W lamp", "direct"],
    "board": ["10 V", "15 V", "20 V"],
}
PARTS = {"amplifier": 40, "by-hand": 16, "lamp-ladder": 8, "board": 16}

LAMP = ("lamp", "above its limit", "draws too much")
NO_READING = ("no reading from",)
REASONS: dict[Case, list[tuple[str, ...]]] = {
    Case("amplifier", "shorted-output"): [LAMP],
    Case("amplifier", "missing-rail"): [("B", "low, should read about"), ("+B", "-B", "apart")],
    Case("amplifier", "runaway"): [("idle", "above its limit", "above twice its target")],
    Case("amplifier", "silent-meter"): [NO_READING],
    Case("by-hand", "shorted-output"): [LAMP],
    Case("by-hand", "missing-rail"): [("+B", "low, should read about")],
    Case("by-hand", "runaway"): [LAMP],
    Case("by-hand", "silent-meter"): [NO_READING],
    Case("lamp-ladder", "shorted-output"): [LAMP],
    Case("board", "shorted-output"): [("is in current limit",)],
    Case("board", "missing-rail"): [("regulated", "below its limit", "the output stays down")],
    Case("board", "runaway"): [("current", "above its limit", "more than twice the expected current")],
    Case("board", "silent-meter"): [NO_READING],
}
"""What must all stand in the reason; where several lists are given, either will do."""

UNPROVABLE = {Case("by-hand", "missing-rail"), Case("by-hand", "silent-meter")}
"""With no rail to fall, or the lamp's meter dead, a hand leaves nothing that could prove the off."""

ON = {
    "amplifier": ("on", "switched on"),
    "board": ("on", "switched on"),
    "by-hand": ("told", "switch on done"),
    "lamp-ladder": ("told", "switch on done"),
}
CHANGED = ("40 W lamp", "60 W lamp", "100 W lamp", "no lamp")
"""What is fitted on the way up the lamp ladder, in its order."""


def test_it_ends_by_itself_with_the_status_of_its_end(demo: DemoRun) -> None:
    healthy = demo.case.fault == "healthy"
    assert demo.ended.status == (0 if healthy else 3), demo.ended.err
    assert demo.summary["is"] == "summary"
    assert demo.summary["outcome"] == ("completed" if healthy else "tripped")
    assert "Traceback" not in demo.ended.err


def test_the_reason_is_the_right_one(demo: DemoRun) -> None:
    reason = demo.summary["reason"]
    if demo.case.fault == "healthy":
        assert reason == "all stages done"
        assert "trip" not in demo.summary
        return
    fitting = [parts for parts in REASONS[demo.case] if all(part in reason for part in parts)]
    assert fitting, reason
    assert demo.summary["trip"]["reason"] == reason
    assert demo.event("trip").text == reason


def test_the_stages_are_climbed_one_by_one(demo: DemoRun) -> None:
    ladder = STAGES[demo.case.example]
    reached = demo.summary["stages"]
    assert reached
    assert reached == ladder[: len(reached)]
    if demo.case.fault == "healthy":
        assert reached == ladder


def test_things_happen_in_their_order(demo: DemoRun) -> None:
    kinds = [(event.kind, event.text) for event in demo.events]
    on_kind, on_text = ON[demo.case.example]
    on = next(i for i, (kind, text) in enumerate(kinds) if kind == on_kind and on_text in text)
    order = [_first(kinds, "armed"), on]
    # Every stage that was reached, each at its first moment of moving.
    order += [kinds.index(("stage", f"{name}: moving")) for name in demo.summary["stages"]]
    if demo.case.fault != "healthy":
        order.append(_first(kinds, "trip"))
    order += [_first(kinds, "off"), _first(kinds, "cut"), _first(kinds, "closed")]
    assert order == sorted(order)
    assert kinds[0][0] == "armed"
    assert kinds[-1][0] == "closed"
    assert len(demo.of("trip")) == (demo.case.fault != "healthy")


def test_each_lamp_is_changed_with_the_unit_off(demo: DemoRun) -> None:
    if demo.case.example != "lamp-ladder":
        assert not demo.witness.saw("lamp")
        return
    climbed = len(demo.summary["stages"])
    assert [event.text for event in demo.events if event.data.get("prompt") == "fit_lamp"] == [
        f"told: {lamp} done" for lamp in CHANGED[:climbed]
    ]
    changes = demo.witness.saw("lamp")
    assert [change["watts"] for change in changes] == [40.0, 60.0, 100.0, 0.0][:climbed]
    # At the far end: whatever the mains last did before each change was to go off.
    moves = demo.witness.saw("mains")
    before = [[move for move in moves if move["t"] < change["t"]] for change in changes]
    assert not any(went[-1]["on"] for went in before if went)
    assert [bool(went) for went in before] == [False, True, True, True][:climbed]
    paused = [event.text for event in demo.events if event.kind == "paused"]
    assert len(paused) == climbed - 1
    assert all(text.startswith("off for a change: ") for text in paused)


def test_what_it_says_of_the_off_is_what_was_proven(demo: DemoRun) -> None:
    (off,) = demo.summary["off"]
    said = [cut["outcome"] for cut in demo.of("cut_state")]
    assert said[0] == "asked"
    assert off["outcome"] == said[-1] == demo.event("closed").data["off"]
    if demo.case in UNPROVABLE:
        assert "verified off" not in said
        assert off["outcome"] == "unknown"
        assert "pull the plug" in off["text"]
    else:
        assert off["outcome"] == "verified off"
        assert said.count("verified off") == 1


def test_the_off_was_seen_at_the_far_end_and_stayed(demo: DemoRun) -> None:
    off = demo.event("off")
    began = demo.of("trip")[0]["wire_ns"] if demo.of("trip") else off.data["wire_ns"] - 1_000_000_000
    assert demo.witness.goes_off(after=began, hang=1.0)
    assert demo.witness.is_off()
    if demo.case.example == "amplifier":
        assert demo.witness.saw("relay", closed=False, after=began)
    if demo.case.example == "board":
        switched = [sight for sight in demo.witness.saw("command") if sight["text"].startswith("OUTP O")]
        proof, on, cut, *again = switched
        assert on["text"].startswith("OUTP ON")
        assert all(sight["text"].startswith("OUTP OFF") for sight in (proof, cut, *again))
        # On once and off once: by these two lines, the second one in answer to what broke the limit.
        up, down = demo.witness.saw("power")
        assert (up["on"], down["on"]) == (True, False)
        assert on["t"] < up["t"] < began < cut["t"] < down["t"]


def test_the_parts_were_read_and_judged(demo: DemoRun) -> None:
    assert demo.summary["parts"] == PARTS[demo.case.example]
    assert sum(demo.summary["verdicts"].values()) == demo.summary["parts"]
    assert all(part["verdict"] and part["reason"] for part in demo.of("part"))
    # What was told is what is kept.
    (unit,) = query_unit.units(demo.library)
    kept = {line.part.designator: line for line in query_unit.parts(demo.library, unit.id)}
    assert {part["designator"] for part in demo.of("part")} == set(kept)


def test_the_session_is_whole_closed_and_listed(demo: DemoRun) -> None:
    assert demo.state.state is State.CLOSED
    assert demo.state.outcome == demo.summary["outcome"]
    assert demo.state.reason == demo.summary["reason"]
    assert demo.state.head.rate == SPEED
    assert demo.state.head.plan
    assert demo.state.head.bench
    assert demo.state.head.profiles
    (line,) = query.sessions(demo.library)
    assert (line.outcome, line.readings) == (demo.state.outcome, demo.state.readings)
    assert str(line.file) == demo.summary["session"]
    assert demo.state.readings == sum(trace["readings"] for trace in demo.summary["traces"]) > 0
    assert not list(demo.session.parent.glob("*-wal"))


def test_the_stream_tells_what_the_file_keeps(demo: DemoRun) -> None:
    armed = next(i for i, line in enumerate(demo.said) if line.get("kind") == "armed")
    told = [(line["t"], line["kind"], line["text"]) for line in demo.said[armed:] if line["is"] == "event"]
    assert told == [(event.t, event.kind, event.text) for event in demo.events]


def _first(kinds: list[tuple[str, str]], kind: str) -> int:
    return next(i for i, (found, _) in enumerate(kinds) if found == kind)
