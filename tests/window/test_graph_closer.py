"""Another run beneath a graph is read from its file as closely as it is looked at, wherever it is laid."""

from pathlib import Path

import numpy as np
import pytest
from helpers.kept import begin

from benchlog.domain.aligning import By
from benchlog.store.records import ReadingRow
from benchlog.window.closer import closer_guest, closer_look
from benchlog.window.graph_guests import Guest, Guests
from benchlog.window.graph_scene import StageMark

S = 1_000_000_000
COUNT = 20_000
T = np.arange(COUNT) / 10.0
VALUE = np.random.default_rng(5).normal(44.0, 0.1, COUNT).round(3)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    writer = begin(tmp_path_factory.mktemp("runs"))
    writer.append(readings=[ReadingRow(1, n + 1, n * S // 10, float(VALUE[n]), "ok") for n in range(COUNT)])
    writer.close("completed", "", COUNT * S // 10)
    return writer.path


def laid(file: Path, by: By) -> Guests:
    """A run of two stages, as a graph that shows all of it in forty columns first has it."""
    points = closer_look(file, 0.0, 2000.0, 40, {"+B": 1})
    marks = (StageMark(100.0, "10 %"), StageMark(900.0, "40 %"))
    guests = Guests(by=by)
    guests.lay_on((StageMark(150.0, "10 %"), StageMark(700.0, "40 %")))
    guests.show([Guest("an older run", "older", "2026-11-01", points, marks, file=file, rows={"+B": 1})])
    return guests


@pytest.mark.parametrize(("by", "shifts"), [(By.START, (0.0, 0.0)), (By.STAGE, (50.0, -200.0))])
@pytest.mark.parametrize("stretch", [(640.0, 680.0), (690.0, 710.0), (720.0, 730.0)])
def test_every_reading_is_there_when_somebody_looks_closer(
    file: Path, by: By, shifts: tuple[float, float], stretch: tuple[float, float]
) -> None:
    guests, (t0, t1) = laid(file, by), stretch
    assert guests.wishes(0.0, 2000.0, 40) == []
    (wish,) = guests.wishes(t0, t1, 800)
    # It is being read: nothing is asked twice, nor a little further along.
    assert guests.wishes(t0, t1, 800) == guests.wishes(t0 + 2.0, t1 + 2.0, 800) == []
    guests.look_closer(wish, closer_guest(wish))
    assert guests.wishes(t0, t1, 800) == []
    (line,) = guests.of("+B")
    known = line.series.columns(t0, t1, 800)
    early, late = T + shifts[0], T + shifts[1]
    parts = [(early < 700.0, early), (late >= 700.0, late)]
    wanted = [
        (when, value)
        for which, at in parts
        for when, value in zip(at[which], VALUE[which], strict=True)
        if t0 <= when <= t1
    ]
    np.testing.assert_allclose(known.first_t, [when for when, _ in wanted], atol=1e-9)
    np.testing.assert_array_equal(known.first, [value for _, value in wanted])
    # No line leads from one stage of it to the next where they lie apart in its own time.
    assert known.gap.sum() == (by is By.STAGE and t0 < 700.0 < t1)


def test_what_lies_elsewhere_by_now_or_is_hidden_is_neither_taken_nor_asked_for(file: Path) -> None:
    guests = laid(file, By.STAGE)
    (wish,) = guests.wishes(640.0, 680.0, 800)
    found = closer_guest(wish)
    guests.turn()
    guests.look_closer(wish, found)
    (line,) = guests.of("+B")
    assert line.series.lacks(640.0, 680.0, 0.05)
    guests.hidden = True
    assert guests.wishes(640.0, 680.0, 800) == []
