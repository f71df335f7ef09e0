"""The recorder is killed, freezes, or is told to end in mid session: what is off, what is heard, what is kept."""

import signal
import sys
from pathlib import Path

import pytest
from helpers import processes
from helpers.agreement import numbers_run_on, raw_texts, where_they_agree
from helpers.deaths import Death, recorder_frozen, recorder_killed, recorder_told_to_end
from helpers.plans import short_plan
from helpers.program import benchlog
from helpers.scene import Scene, scene
from helpers.until import until

from benchlog.errors import WATCH
from benchlog.store import query
from benchlog.store.records import Ending, State

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs signals and /proc")

EXAMPLES = ("board", "amplifier", "by-hand")
SUDDEN = (recorder_killed, recorder_frozen)
NO_METER_PAIRS = "bench supply"


def everything_up_to_stored_is_kept(live: Scene, died: int) -> None:
    """What the driver heard is stored is in the file, as the meters sent it."""
    stored, kept = live.stored(), live.kept()
    assert set(stored) == set(kept)
    armed_ns = query.anchors(live.session)[0].wire_ns
    for trace in query.traces(live.session):
        rows = query.rows(live.session, trace.id)
        assert numbers_run_on(rows)
        assert len(rows) >= stored[trace.name] > 0
        if trace.meter != NO_METER_PAIRS:
            job = trace.meter
            streams = not live.addresses[job].startswith("TCPIP")
            sent = live.witness.lines_of(job) if streams else live.witness.replies_of(job)
            where_they_agree(raw_texts(rows), sent, armed_ns)


@pytest.mark.parametrize("example", EXAMPLES)
@pytest.mark.parametrize("death", SUDDEN, ids=lambda death: death.__name__)
def test_a_dead_recorder_leaves_the_unit_off(example: str, death: Death, tmp_path: Path) -> None:
    with scene(example, tmp_path) as live:
        died = death(live.is_live())
        off = live.witness.goes_off(after=died)
        if example == "board":
            assert live.witness.first_command("OUTP OFF", after=died)["t"] <= off["t"]
            live.driver.says('"is":"cut_state"', '"outcome":"verified off"')
        if example == "amplifier":
            # The line fell silent with its recorder; nobody opened it again, which would pulse its lines.
            dropped = live.witness.sees("relay", closed=False, after=died)
            assert not live.witness.saw("beat", first=True, after=died)
            assert dropped["last"] < dropped["t"]
        if example == "by-hand":
            assert off["t"] > live.alarm_heard(after=died)
        # Whatever the off-switch: somebody is called.
        assert live.alarm_heard(after=died)
        live.driver.says('"is":"notice"', f'"place":"{WATCH}"', '"grave":true')
        ended = live.driver.wait()
        assert ended.status == 2
        assert "Traceback" not in ended.err
        assert not processes.lives(live.recorder)
        assert live.witness.is_off()
        everything_up_to_stored_is_kept(live, died)


@pytest.mark.parametrize("example", EXAMPLES)
def test_recorder_and_parent_dead_at_once_leave_the_alarm_and_what_drops_by_itself(
    example: str, tmp_path: Path
) -> None:
    with scene(example, tmp_path) as live:
        recorder, parent = live.is_live().recorder, live.driver.pid
        died = live.kill(recorder)
        live.kill(parent)
        heard = live.alarm_heard(after=died)
        if example == "amplifier":
            live.witness.sees("relay", closed=False, after=died)
        if example == "by-hand":
            assert live.witness.goes_off(after=died)["t"] > heard
        live.driver.wait()
        everything_up_to_stored_is_kept(live, died)
        (swept,) = live.next_start().closed
        assert swept.outcome == Ending.LOST


def test_the_next_start_closes_the_session_of_a_killed_recorder_with_its_reason(tmp_path: Path) -> None:
    with scene("board", tmp_path) as live:
        recorder_killed(live.is_live())
        live.driver.wait()
        assert query.state(live.session).state is State.LIVE
        before = live.kept()
        # A command that gets no further than to open the library: nobody answers on this bench any more.
        live.bench.send(signal.SIGKILL)
        (tmp_path / "plan.toml").write_text(short_plan("board"), encoding="utf-8")
        files = (tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml")
        started = benchlog("powerup", *files, home=tmp_path)
        assert started.status == 2
        assert (
            f"Run {live.session.stem} was not closed: benchlog's watch ended without closing it"
            in started.out
        )
        (swept,) = query.sessions(live.library)
        assert swept.outcome == Ending.LOST
        assert "benchlog's watch ended without closing it" in swept.reason
        assert "the last reading kept was" in swept.reason
        assert live.kept() == before
        assert query.state(live.session).state is State.CLOSED
        assert live.next_start().closed == []


@pytest.mark.parametrize("example", EXAMPLES)
def test_a_recorder_that_is_told_to_end_cuts_logs_its_tail_and_closes(example: str, tmp_path: Path) -> None:
    with scene(example, tmp_path) as live:
        died = recorder_told_to_end(live.is_live())
        off = live.witness.goes_off(after=died)
        closed = live.is_closed()
        assert (closed.outcome, closed.reason) == (Ending.ALONE, "benchlog was told to end")
        until(lambda: not processes.lives(live.recorder), "the end of the recorder")
        (event,) = query.events(live.session, "closed")
        assert event.data["off"] == "verified off"
        assert off["t"] > died
        for trace in query.traces(live.session):
            (asked,) = query.events(live.session, "off")
            assert len(query.readings(live.session, trace.id, from_t=asked.t)) > 0, trace.name
        ended = live.driver.wait()
        assert ended.status == 4
        assert live.said("closed")[0]["outcome"] == Ending.ALONE
