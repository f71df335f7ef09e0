"""Taking a part: from the probes' touch to the reading kept in the library, less what settling takes."""

import json
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

from benchlog.commands.bench_and_visit import open_bench
from benchlog.commands.conduct import Ear
from benchlog.commands.parts_round import PartsRound
from benchlog.domain.settle import IN_A_ROW
from benchlog.domain.unit import RoundKind, UnitFile
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.textfile import parse
from measure.far_end import FarEnd
from measure.parts_bench import bench_text, unit_text
from measure.processes import HANG, command
from measure.table import Line, at_most, spread, told
from measure.terms import Terms

DELAY = 0.05
SETTLING = (1 + IN_A_ROW) * DELAY
"""The first reading is never used, then so many must agree: what the meter itself needs for them."""


def taken(terms: Terms) -> Iterator[Line]:
    """One part after the other, as in a round; seconds beyond settling."""
    count = terms.many(100, 20)
    with FarEnd(1, DELAY) as far, Library.open(terms.folder / "library") as library:
        seconds = _round(far, library, terms.folder, count)
    found = spread(seconds)
    what = f"taking a part beyond settling, {count} x"
    yield told(what, "p50", found.p50, "s", f"settling itself: {SETTLING:g} s of the meter's")
    yield at_most(what, "max", found.highest, "s", 0.15)
    yield from _hands_free(terms)


def _hands_free(terms: Terms) -> Iterator[Line]:
    """The same in the window, both hands on the probes: from the reply that settled to tone and next designator."""
    count = terms.many(100, 20)
    with FarEnd(1, DELAY, touches=True) as far:
        argv = command("measure.hands_taking", far.meters[0], terms.folder / "hands", count)
        heard = json.loads(subprocess.run(argv, stdout=subprocess.PIPE, check=True).stdout)
        settled = far.settled()
    # Each tone answers the contact that had come to rest just before it.
    found = spread([(t - max(one for one in settled if one <= t)) / 1e9 for t in heard])
    what = f"hands-free, from settled to tone and next designator, {count} x"
    yield told(what, "p50", found.p50, "s")
    yield at_most(what, "max", found.highest, "s", 0.15)


def _round(far: FarEnd, library: Library, folder: Path, count: int) -> list[float]:
    unit = edit.create_unit(library, parse(unit_text(count), "unit", UnitFile))
    visit = edit.open_visit(library, unit.id, "", 230.0)
    pass_ = edit.start_round(library, visit.id, RoundKind.AS_FOUND)
    ear = Ear(_not_shown)
    touched: list[float] = []
    with Recorder.start(on_message=ear.hear, alarm=False, log_dir=folder, greeting=HANG) as recorder:
        open_bench(recorder, bench_text(far.meters[0]), "bench", [])
        round_ = PartsRound(
            library, recorder, ear, job="parts meter", probe=lambda *_: touched.append(time.monotonic())
        )
        return [time.monotonic() - touched[-1] - SETTLING for _ in round_.take_all(unit, pass_)]


def _not_shown(_: messages.Message) -> None:
    """Nobody looks."""
