"""Readings a second: poll, decode, guard, store and publish, against loops that do next to nothing."""

import contextlib
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

from measure.far_end import FarEnd
from measure.live import Live, bench_text, plan_text
from measure.processes import Running, command
from measure.table import Line, median, times_at_least, told
from measure.terms import Terms
from measure.turns import in_turns

SETTLING = 1.0
"""Seconds of a run that do not count: its session has just been opened."""


def polled(terms: Terms) -> Iterator[Line]:
    """One meter and six, each beside its rivals on the same far end, in turns."""
    yield from _rows(terms, 1)
    yield from _rows(terms, 6)


def _rows(terms: Terms, meters: int) -> Iterator[Line]:
    seconds = terms.many(5, 3)
    with FarEnd(meters, 0.0) as far:
        ours, raw, visa = (
            median(found)
            for found in in_turns(
                terms.many(5, 3),
                lambda n: _ours(far, terms.folder / f"{meters} meters {n}", seconds),
                lambda _: _rival(far, "raw", seconds),
                lambda _: _rival(far, "visa", seconds),
            )
        )
        ceiling = _rival(far, "pipe", seconds)
    what = "one meter at no delay" if meters == 1 else f"{meters} meters at no delay"
    yield told(what, "readings/s", ours, "/s", f"the far end's own ceiling, asked ahead: {ceiling:,.0f} /s")
    yield times_at_least(what, "to raw", ours, "/s", raw, 0.8 if meters == 1 else 0.4)
    if meters == 1:
        yield Line(what, "to pyvisa", ours, "/s", visa)
    else:
        yield times_at_least(what, "to pyvisa", ours, "/s", visa, 1.5)


def _ours(far: FarEnd, folder: Path, seconds: float) -> float:
    """Readings a second of a live session, as its file tells."""
    meters = len(far.meters)
    bench = bench_text(far.meters, "supply", supply=far.supply, relay=far.relay)
    with Live("supply", bench, plan_text(meters, "supply"), folder) as live:
        time.sleep(SETTLING + seconds + 0.5)
    return stored(live.session, SETTLING, seconds)


def stored(session: Path, since: float, seconds: float) -> float:
    """Readings a second in a session's file, from `since` seconds after its first reading on."""
    with contextlib.closing(sqlite3.connect(f"{session.as_uri()}?mode=ro", uri=True)) as connection:
        (first,) = connection.execute("SELECT min(t) FROM reading").fetchone()
        begun = first + int(since * 1e9)
        (count,) = connection.execute(
            "SELECT count(*) FROM reading WHERE t >= ? AND t < ?", (begun, begun + int(seconds * 1e9))
        ).fetchone()
    return float(count) / seconds


def _rival(far: FarEnd, kind: str, seconds: float) -> float:
    """Readings a second of a rival on the same meters."""
    with Running(command("measure.rivals", kind, "--seconds", seconds, *far.meters)) as rival:
        said = rival.hear()
    return float(said["readings"]) / float(said["seconds"])
