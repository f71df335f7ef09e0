"""A kept run as it is read from its file: numbers, stages, flags, what happened; live, empty and damaged ones."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from helpers.kept import begin, change, some_readings
from helpers.plans import short_plan
from pytestqt.qtbot import QtBot

from benchlog.domain.plan import Plan
from benchlog.domain.unit import UnitFile
from benchlog.errors import Damaged
from benchlog.recorder.outlet import trace_rows
from benchlog.store import edit
from benchlog.store.append import SessionWriter
from benchlog.store.library import Library
from benchlog.store.records import EventRow, ReadingRow, RemarkRow
from benchlog.textfile import parse
from benchlog.window import event_words
from benchlog.window.closer import closer_look
from benchlog.window.look import Look
from benchlog.window.past_numbers import SAID, Numbers
from benchlog.window.past_row import PastRow, clock, local, read_rows, row_of
from benchlog.window.past_run import read_on, read_run
from benchlog.window.shapes import Shape

S = 1_000_000_000
PLAN = short_plan("amplifier", stages=2)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "library"
    with Library.open(folder):
        yield folder


def stage(t: float, name: str, state: str, index: int = 0) -> EventRow:
    return EventRow(round(t * S), "stage", f"{name}: {state}", {"state": state, "index": index})


def off(t: float, why: str = "off", reason: str = "all stages done") -> EventRow:
    return EventRow(round(t * S), "off", reason, {"why": why, "was_on": True})


def closed(t: float, how: str = "verified off", *, told: bool = False) -> EventRow:
    return EventRow(round(t * S), "closed", "all stages done", {"off": how, "told_off": told})


def with_plan(folder: Path, **more: object) -> SessionWriter:
    writer = begin(folder / "sessions", plan=PLAN, plan_name="behind a lamp", **more)
    writer.declare(trace_rows(parse(PLAN, "plan", Plan)))
    return writer


def ended(folder: Path, outcome: str, *events: EventRow, **more: object) -> Path:
    writer = with_plan(folder, **more)
    writer.append(readings=some_readings(3), events=events)
    writer.close(outcome, "for a reason", 12 * S)
    return writer.path


def row_at(folder: Path, file: Path) -> PastRow:
    return next(row for row in read_rows(folder).rows if row.file == file)


# --- numbers ---------------------------------------------------------------------------------------


def test_a_trace_tells_what_it_read_before_off_and_at_the_end(library: Path) -> None:
    writer = with_plan(library)
    values = [(1, 0.0), (2, 40.5), (3, 40.1), (4, 22.0), (5, 6.4)]
    rows: list[ReadingRow] = [ReadingRow(3, t, t * S, value, "ok") for t, value in values]
    writer.append(readings=[*rows, ReadingRow(3, 6, 6 * S, None, "missing")], events=[off(3.5), closed(7)])
    writer.close("completed", "all stages done", 7 * S)
    run = read_run(writer.path)
    rail = run.traces[2]
    assert rail.plan.name == "+B"
    assert [rail.shown(v) for v in (rail.at_off, rail.final, rail.lowest, rail.highest)] == [
        "40.10 V",
        "6.40 V",
        "0.00 V",
        "40.50 V",
    ]
    assert (rail.count, rail.last_word, run.length, run.off) == (6, "missing", 7.0, "verified off")
    assert rail.points.t.tolist() == [1.0, 2.0, 3.0, 4.0, 5.0]
    assert rail.points.broken
    assert run.traces[0].shown(run.traces[0].final) == "\N{EN DASH}"


def test_a_number_of_a_trace_that_was_not_believed_just_then_is_marked_so(
    library: Path, look: Look, qtbot: QtBot
) -> None:
    def told(t: int, kind: str, doubt: str) -> EventRow:
        return EventRow(t * S, kind, "", {"trace": "+B", "doubt": doubt})

    writer = with_plan(library)
    values = [(1, 40.9), (3, 40.1), (5, 0.5), (7, 6.4)]
    events = [
        told(0, "trust", "unproven"),
        told(2, "trust", ""),
        told(2, "warn", "changing range"),
        told(4, "warn", "clip off?"),
        off(4.5),
        told(6, "trust", ""),
        closed(8),
    ]
    readings = [ReadingRow(3, n, t * S, value, "ok") for n, (t, value) in enumerate(values, 1)]
    writer.append(readings=readings, events=events)
    writer.close("completed", "all stages done", 8 * S)
    run = read_run(writer.path)
    assert [run.doubt_at("+B", t) for t in (1, 3, 5, 7)] == ["unproven", "", "clip off?", ""]
    assert run.doubt_at("-B", 5) == ""
    numbers = Numbers(look)
    qtbot.addWidget(numbers)
    numbers.show_run(run)
    assert numbers.text_of("+B") == ("40.10 V ?", "6.40 V", "0.50 V ?", "40.90 V ?")
    assert numbers._cells["+B", SAID].text() == "? clip off?, ? unproven"
    assert not numbers._cells["-B", SAID].text()


def test_the_state_of_a_supply_is_a_word_and_has_no_extremes(library: Path) -> None:
    text = short_plan("board")
    writer = begin(library / "sessions", plan=text)
    rows = trace_rows(parse(text, "plan", Plan))
    states = [row.id for row in rows if row.function == "state"]
    writer.declare(rows)
    writer.append(
        readings=[ReadingRow(states[0], 1, S, 1.0, "ok"), ReadingRow(states[0], 2, 2 * S, 9.0, "ok")]
    )
    writer.close("completed", "", 3 * S)
    found = next(trace for trace in read_run(writer.path).traces if trace.row == states[0])
    assert not found.ranges
    assert (found.shown(found.lowest), found.shown(found.final)) == ("regulating", "?")


def test_a_long_run_is_read_by_its_extremes_and_closer_where_it_is_looked_at(library: Path) -> None:
    writer = with_plan(library)
    count = 40_000
    value = np.random.default_rng(1).normal(0.0, 1.0, count)
    value[31_234] = 50.0
    rows = [ReadingRow(3, k + 1, k * S // 10, float(value[k]), "ok") for k in range(count)]
    rows[20_000:20_100] = [row._replace(value=None, outcome="missing") for row in rows[20_000:20_100]]
    writer.append(readings=rows)
    writer.close("completed", "", count * S // 10)
    run = read_run(writer.path)
    rail = run.traces[2]
    assert (rail.count, rail.highest, rail.highest_t, run.summed) == (count, 50.0, 3123.4, 1.0)
    points = rail.points
    assert len(points) < 2 * 8 * 2048
    assert points.width > 0.0
    assert points.t[points.value.argmax()] == 3123.4
    assert not ((points.t > 2000.0) & (points.t < 2009.9)).any()
    assert not points.joined[np.searchsorted(points.t, 2005.0)]
    closer = closer_look(writer.path, 3120.0, 3130.0, 1000)["+B"]
    assert closer.width == 0.0
    np.testing.assert_allclose(closer.t, np.arange(31_199, 31_302) / 10)
    np.testing.assert_array_equal(closer.value, value[31_199:31_302])


# --- stages and flags ------------------------------------------------------------------------------


def test_stages_are_marked_where_they_were_reached_until_off(library: Path) -> None:
    events = [
        stage(0, "10 %", "setting"),
        stage(2, "10 %", "moving"),
        stage(4, "10 %", "dwelling"),
        stage(6, "20 %", "setting", 1),
        stage(8, "20 %", "moving", 1),
        EventRow(9 * S, "trip", "lamp 90 V, above its limit", {"trace": "lamp"}),
        off(9, "trip", "lamp 90 V, above its limit"),
        stage(9.1, "20 %", "tail", 1),
    ]
    run = read_run(ended(library, "tripped", *events))
    assert [(mark.t, mark.text) for mark in run.marks] == [(2.0, "10 %"), (8.0, "20 %")]
    assert [(flag.t, flag.kind) for flag in run.flags] == [(9.0, "trip")]
    assert run.off_at == 9.0


def test_an_off_without_a_trip_a_warning_and_notes_are_flagged(library: Path) -> None:
    writer = with_plan(library)
    writer.append(
        events=[EventRow(2 * S, "warn", "sink L is warm"), off(5)],
        remarks=[RemarkRow("a", 3 * S, "it hums"), RemarkRow("b", 4 * S, "it was the bulb", late=True)],
    )
    writer.close("completed", "", 6 * S)
    run = read_run(writer.path)
    assert sorted((flag.t, flag.kind, flag.text) for flag in run.flags) == [
        (2.0, "warn", "sink L is warm"),
        (3.0, "note", "it hums"),
        (4.0, "note", "it was the bulb (written later)"),
        (5.0, "off", "off"),
    ]
    notes = [line.text for line in run.told if line.note]
    assert notes == ["it hums", "it was the bulb (written later)"]


@pytest.mark.parametrize(
    ("kind", "text", "data", "says", "shape", "minor"),
    [
        ("stage", "10 %: setting", {"state": "setting"}, "10 %: setting the source", None, True),
        ("stage", "10 %: dwelling", {"state": "dwelling"}, "10 %: dwelling", None, False),
        ("stage", "10 %: flying", {}, "10 %: flying", None, True),
        ("asked", "next", {"act": "next", "early": 0.0}, "you asked for the next stage", None, True),
        (
            "asked",
            "next, 4 s before",
            {"act": "next", "early": 4.2},
            "you asked for the next stage, 4 s before the end of the dwell",
            None,
            False,
        ),
        (
            "told",
            "told: set dial done",
            {"prompt": "set_dial", "done": True},
            "you said: the dial is set",
            None,
            True,
        ),
        (
            "told",
            "told: switch off not done",
            {"prompt": "switch_off", "done": False},
            "you said: it is not switched off",
            None,
            False,
        ),
        ("told", "told: the unit is off", {}, "you said: the unit is off", None, False),
        ("cut", "relay: asked", {"outcome": "asked"}, "relay: asked to switch off", None, False),
        (
            "cut",
            "relay: mains fell to 10 mV",
            {"outcome": "verified off"},
            "relay: seen off: mains fell to 10 mV",
            Shape.GOOD,
            False,
        ),
        ("cut", "relay", {"outcome": "asked, still live"}, "relay: STILL LIVE", Shape.STOP, False),
        ("cut", "relay: what", {"outcome": "who knows"}, "relay: what", None, False),
        ("trip", "lamp 90 V", {}, "tripped: lamp 90 V", Shape.STOP, False),
        ("off", "lamp 90 V", {"why": "trip"}, "everything off", None, False),
        ("off", "all stages done", {"why": "off"}, "off: all stages done", None, False),
        ("drill", "drill: off seen", {"seen": True}, "drill: off seen", Shape.GOOD, False),
        ("drill", "drill: not seen", {"seen": False}, "drill: not seen", Shape.NOTHING, False),
        ("meter", "lamp: gone", {"job": "lamp", "state": "gone"}, "lamp: gone", Shape.NOTHING, False),
        ("meter", "lamp: open", {"job": "lamp", "state": "open"}, "lamp: answers", None, True),
        ("meter", "lamp: asleep", {"job": "lamp", "state": "asleep"}, "lamp: asleep", None, False),
        ("warn", "it is warm", {}, "it is warm", Shape.DOUBT, False),
        ("closed", "all stages done", {}, "the run is closed", None, True),
        ("something new", "as it stands", {}, "as it stands", None, True),
    ],
)
def test_an_event_is_told_in_the_words_of_the_bench(
    kind: str, text: str, data: dict[str, object], says: str, shape: Shape | None, minor: bool
) -> None:
    line = event_words.told(EventRow(2 * S, kind, text, data))
    assert (line.t, line.text, line.shape, line.minor) == (2.0, says, shape, minor)


# --- what is not whole -----------------------------------------------------------------------------


def test_a_live_run_is_read_on_from_where_it_was_read_to(library: Path) -> None:
    writer = with_plan(library)
    writer.append(readings=some_readings(5, trace=3), events=[stage(0.1, "10 %", "moving")])
    run = read_run(writer.path)
    assert (run.live, run.traces[2].count, run.traces[2].at_off) == (True, 5, None)
    same = read_on(run)
    assert not any(len(trace.fresh) for trace in same.traces)
    assert same.traces[2].count == 5
    writer.append(events=[off(0.55)])
    writer.append(readings=some_readings(5, trace=3, first=6))
    now = read_on(run)
    rail = now.traces[2]
    assert rail.fresh.t.tolist() == pytest.approx([0.6, 0.7, 0.8, 0.9, 1.0])
    assert rail.fresh.joined.all()
    assert (rail.count, rail.final, rail.lowest, rail.at_off) == (10, 41.25, 40.125, 40.625)
    assert now.length == pytest.approx(1.0)
    writer.close("completed", "all stages done", 2 * S)
    done = read_on(now)
    assert (done.live, done.length, len(done.traces[2].points)) == (False, 2.0, 10)
    assert done.traces[2].at_off == 40.625


def test_a_plan_that_cannot_be_read_leaves_the_traces(library: Path) -> None:
    writer = begin(library / "sessions")
    writer.append(readings=some_readings(2))
    writer.close("completed", "", S)
    run = read_run(writer.path)
    assert "cannot be read" in run.plan_problem
    assert [trace.name for trace in run.plan.trace] == ["+B", "offset L"]
    assert run.traces[0].shown(run.traces[0].final) == "40.25 V"


def test_a_run_of_nothing_is_a_run(library: Path) -> None:
    writer = begin(library / "sessions", plan="")
    writer.close("ended by the operator", "closed before it was on", 0)
    run = read_run(writer.path)
    assert (run.length, run.marks, run.flags, run.told, run.off_at) == (0.0, (), (), (), None)
    assert "without a plan" in run.plan_problem
    assert all(trace.final is None for trace in run.traces)


def test_a_damaged_file_is_listed_with_what_is_wrong_and_cannot_be_opened(library: Path) -> None:
    file = library / "sessions" / "20260101T000000Z-deadbeef.db"
    file.write_bytes(b"this is no run at all" * 100)
    row = row_at(library, file)
    assert (row.readable, row.shape, row.ending) == (False, Shape.NOTHING, "cannot be read")
    assert row.reason.startswith(f"{file.name}: ")
    with pytest.raises(Damaged):
        read_run(file)


@pytest.mark.parametrize(
    ("events", "shown"),
    [
        ([], True),
        ([off(2), closed(3)], True),
        ([EventRow(2 * S, "off", "left alone", {"was_on": False}), closed(3, "")], True),
        ([off(2), closed(3, "unknown")], False),
        ([off(2), closed(3, "unknown", told=True)], True),
        ([off(2), closed(3, "asked, still live", told=True)], False),
        ([EventRow(S, "on", "switched on", {"done": True})], False),
        ([EventRow(S, "on", "no", {"done": False})], True),
    ],
)
def test_a_run_is_shown_off_only_where_something_or_somebody_showed_it(
    library: Path, events: list[EventRow], shown: bool
) -> None:
    assert read_run(ended(library, "tripped", *events)).shown_off is shown


# --- the list --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("outcome", "events", "shape", "says"),
    [
        ("completed", [closed(9)], Shape.GOOD, "went through"),
        ("completed", [closed(9, "unknown")], Shape.DOUBT, "went through"),
        ("completed", [closed(9, "unknown", told=True)], Shape.DOUBT, "went through"),
        ("completed", [], Shape.DOUBT, "went through"),
        ("tripped", [closed(9)], Shape.STOP, "tripped"),
        ("ended by the operator", [closed(9)], Shape.DOUBT, "ended by you"),
        ("cut when left alone", [closed(9)], Shape.NOTHING, "cut when left alone"),
        ("not closed", [], Shape.NOTHING, "not closed"),
        ("a word of tomorrow", [], Shape.NOTHING, "a word of tomorrow"),
    ],
)
def test_an_ending_has_a_shape_and_is_good_only_where_it_was_seen_off(
    library: Path, outcome: str, events: list[EventRow], shape: Shape, says: str
) -> None:
    row = row_at(library, ended(library, outcome, *events))
    assert (row.shape, row.ending, row.lasted, row.plan) == (shape, says, "0:12", "behind a lamp")
    assert row_of(library, read_run(row.file)).shape is shape


def test_the_list_is_newest_first_with_live_runs_among_them(library: Path) -> None:
    old = ended(library, "tripped", started="2026-11-24T10:00:00.000Z")
    live = with_plan(library, started="2026-11-25T10:00:00.000Z")
    rows = read_rows(library).rows
    assert [row.file for row in rows] == [live.path, old]
    assert (rows[0].shape, rows[0].ending, rows[0].lasted) == (Shape.HERE, "still open", "")
    live.abandon()


def test_a_run_is_found_by_words_of_its_unit_and_outcome(tmp_path: Path) -> None:
    folder = tmp_path / "library"
    with Library.open(folder) as held:
        unit = edit.create_unit(held, UnitFile(name="Hall amplifier"))
        file = ended(folder, "tripped", unit=unit.id)
    row = row_at(folder, file)
    assert row.unit == "Hall amplifier"
    listed, day = read_rows(folder), date(2026, 11, 26)
    assert listed.finder.find("hall TRIPPED", day).places == (0,)
    assert listed.finder.find("", day).places == (0,)
    assert listed.finder.find("hall went through", day).places == ()
    assert row_of(folder, read_run(file)).unit == "Hall amplifier"


def test_how_a_closed_run_went_off_is_looked_up_once(tmp_path: Path) -> None:
    library = tmp_path / "library"
    with Library.open(library) as held:
        file = ended(library, "completed", closed(9))
        held.sweep()
    line = row_at(library, file).line
    assert (line.off, line.told_off) == ("verified off", False)
    change(library / "library.db", "UPDATE session SET off = 'as the list has it'")
    assert row_at(library, file).line.off == "as the list has it"
    change(file, "UPDATE event SET data = 'no json'")
    assert row_at(library, file).line.off == ""


def test_times_are_shown_as_a_clock_shows_them() -> None:
    assert [clock(t) for t in (0.0, 61.9, 3600.0, 36061.0)] == ["0:00", "1:01", "1:00:00", "10:01:01"]
    assert local("no time") == "no time"
    assert local("2026-11-25T10:15:00Z").endswith(":15")
