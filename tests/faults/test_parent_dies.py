"""The program that runs a session is killed or freezes: the recorder outlives it for as long as it takes."""

import sys
from pathlib import Path

import pytest
from helpers import processes
from helpers.deaths import parent_frozen, parent_killed
from helpers.scene import Scene, scene
from helpers.until import until

from benchlog.store import query
from benchlog.store.records import Ending

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs signals and /proc")

EXAMPLES = ("board", "amplifier", "by-hand")


def the_recorder_cut_and_closed(live: Scene, died: int, reason: str) -> None:
    """The far end is off, the tail is logged, and the session says why."""
    assert live.witness.goes_off(after=died)
    closed = live.is_closed()
    assert (closed.outcome, closed.reason) == (Ending.ALONE, reason)
    (event,) = query.events(live.session, "closed")
    assert event.data["off"] == "verified off"
    (asked,) = query.events(live.session, "off")
    for trace in query.traces(live.session):
        assert len(query.readings(live.session, trace.id, from_t=asked.t)) > 0, trace.name
    assert live.witness.is_off()


@pytest.mark.parametrize("example", EXAMPLES)
def test_a_killed_parent_is_cut_for_and_the_recorder_ends_by_itself(example: str, tmp_path: Path) -> None:
    with scene(example, tmp_path) as live:
        recorder, alarm = live.is_live().recorder, live.alarm
        died = parent_killed(live)
        the_recorder_cut_and_closed(live, died, "the window or terminal of this run ended")
        if example == "by-hand":
            assert live.alarm_heard(after=died) < live.witness.goes_off(after=died)["t"]
        until(lambda: not processes.lives(recorder), "the end of the recorder")
        until(lambda: not processes.lives(alarm), "the end of the alarm")
        report = live.next_start()
        assert not report.closed
        assert not report.problems


def test_a_library_can_be_opened_while_an_orphaned_recorder_logs_its_tail(tmp_path: Path) -> None:
    with scene("board", tmp_path) as live:
        parent_killed(live.is_live())
        live.driver.wait()
        report = live.next_start()
        if not report.live:
            # It was quicker than we were.
            assert query.state(live.session).outcome == Ending.ALONE
        closed = live.is_closed()
        assert closed.outcome == Ending.ALONE


@pytest.mark.parametrize("example", ["board", "by-hand"])
def test_a_frozen_parent_counts_as_dead_after_a_while(example: str, tmp_path: Path) -> None:
    with scene(example, tmp_path) as live:
        # Past its drill, which would have the hand switch off by itself.
        died = parent_frozen(live.is_live().is_at(1) if example == "by-hand" else live.is_live())
        the_recorder_cut_and_closed(live, died, "the window fell silent for 5 s")
        live.go_on(live.driver.pid)
        ended = live.driver.wait()
        assert ended.status == 4
        assert ended.lines[-1]["outcome"] == Ending.ALONE


def test_a_parent_killed_while_the_off_switch_is_proven_leaves_nobody_behind(tmp_path: Path) -> None:
    with scene("amplifier", tmp_path) as live:
        live.driver.says('"is":"prompt"')
        recorder, alarm = live.recorder, live.alarm
        parent_killed(live)
        until(lambda: not processes.lives(recorder), "the end of the recorder")
        until(lambda: not processes.lives(alarm), "the end of the alarm")
        assert live.witness.is_off()
