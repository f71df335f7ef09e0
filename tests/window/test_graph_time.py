"""What stands below a graph: the time since the start, since each stage began, or of the clock."""

from datetime import datetime, timedelta, timezone

import pytest

from benchlog.window.graph_scene import StageMark
from benchlog.window.graph_time import Base, TimeScale

MARKS = (StageMark(30.0, "10 %"), StageMark(100.0, "20 %"))
BEGAN = datetime(2026, 11, 25, 23, 58, 30, tzinfo=timezone(timedelta(hours=1)))


def test_it_goes_through_the_scales_that_say_anything() -> None:
    scale = TimeScale(marks=MARKS, started=BEGAN)
    seen = []
    for _ in range(3):
        scale = TimeScale(scale.next, scale.marks, scale.started)
        seen.append(scale.base)
    assert seen == [Base.STAGE, Base.CLOCK, Base.RUN]
    assert TimeScale().next is Base.RUN
    assert TimeScale(Base.STAGE, started=BEGAN).next is Base.RUN


def test_the_clock_stands_at_round_times_of_the_clock_and_goes_on_after_midnight() -> None:
    scale = TimeScale(Base.CLOCK, MARKS, BEGAN)
    ticks = scale.ticks(0.0, 240.0, 5)
    assert ticks == ((30.0, "23:59:00"), (90.0, "0:00:00"), (150.0, "0:01:00"), (210.0, "0:02:00"))
    assert scale.word(95.5) == "0:00:05"
    assert scale.word(95.5, fine=True) == "0:00:05.5"


def test_a_simulated_bench_takes_less_of_the_clock() -> None:
    scale = TimeScale(Base.CLOCK, (), BEGAN, rate=10.0)
    assert scale.word(300.0) == "23:59:00"
    assert [t for t, word in scale.ticks(0.0, 600.0, 4) if word == "23:59:00"] == [pytest.approx(300.0)]


def test_each_stage_begins_anew() -> None:
    scale = TimeScale(Base.STAGE, MARKS, BEGAN)
    assert scale.word(29.0) == "0:29"
    assert scale.word(30.0) == "0:00"
    assert scale.word(112.0) == "0:12"
    assert scale.place(112.0) == "0:12 in 20 %"
    assert scale.place(12.0) == "0:12"
    ticks = scale.ticks(0.0, 160.0, 8)
    assert ticks == (
        (0.0, "0:00"),
        (30.0, "0:00"),
        (60.0, "0:30"),
        (100.0, "0:00"),
        (130.0, "0:30"),
        (160.0, "1:00"),
    )
    assert all(20.0 <= t <= 90.0 for t, _ in scale.ticks(20.0, 90.0, 8))


@pytest.mark.parametrize("base", list(Base))
@pytest.mark.parametrize("span", [0.5, 3.0, 47.0, 800.0, 40_000.0, 400_000.0])
def test_no_scale_writes_more_than_there_is_room_for(base: Base, span: float) -> None:
    scale = TimeScale(base, MARKS, BEGAN)
    ticks = scale.ticks(12.3, 12.3 + span, 8)
    assert len(ticks) <= 8 + len(MARKS) + 1
    assert [t for t, _ in ticks] == sorted(t for t, _ in ticks)
    assert all(12.2 < t < 12.4 + span for t, _ in ticks)
