"""A clip that falls off in the middle of a run, from its wire to the session's file: it never looks like a good rail.

A meter that dies is the demo's `silent-meter`, in test_demo.py.
"""

import sys
from pathlib import Path

from helpers.live_bench import live_bench
from helpers.near import Inside, hands
from helpers.until import until

from benchlog.recorder import messages
from benchlog.store import query


def test_a_clip_that_falls_off_is_told_once_shown_as_such_and_switched_off_for(tmp_path: Path) -> None:
    with live_bench("by-hand") as far:
        ear = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")]
        near = Inside(hands(far), player=ear)
        path = near.live(far, "by-hand", tmp_path, dwell=3000.0)
        near.wait(messages.Stage, lambda stage: stage.state == "dwelling" and stage.left < 2980.0)
        far.control("meter", job="+B", act="clip")
        said = near.wait(messages.Event, lambda event: event.data.get("doubt") == "clip off?")
        assert said.kind == "warn"
        assert said.text.endswith(": look whether its clip is off")
        until(lambda: (None, "clip off?") in rows_of(near), "the reading")
        until(lambda: near.of(messages.Trip), "the trip")
        near.wait(messages.Closed)
        near.close()
    doubts = [event.text for event in query.events(path, "warn") if event.data.get("trace") == "+B"]
    assert doubts == [said.text]
    (trace,) = [one for one in query.traces(path) if one.name == "+B"]
    rows = query.rows(path, trace.id)
    assert all((row.value is None) == (row.outcome != "ok") for row in rows)
    # Nor is it any better for the cut: it never read as if the reservoir were empty.
    assert {row.outcome for row in rows if row.t > said.t} == {"clip off?"}


def rows_of(near: Inside) -> list[tuple[float | None, str]]:
    """Value and outcome of each reading of the rail that was published."""
    batches = [batch for message in near.of(messages.Readings) for batch in message.batches]
    return [(row[2], row[3]) for batch in batches if batch.trace == "+B" for row in batch.rows]
