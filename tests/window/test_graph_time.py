"""What stands below a graph: the time since the start, since each stage began, or of the clock."""

import time
from datetime import UTC, datetime, timedelta, timezone, tzinfo

import pytest

from benchlog.window.graph_scene import StageMark
from benchlog.window.graph_time import Base, TimeScale, began_at

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


def test_stages_shorter_than_the_space_between_two_times_have_times_all_the_same() -> None:
    marks = tuple(StageMark(100.0 * n, f"stage {n}") for n in range(6))
    ticks = TimeScale(Base.STAGE, marks).ticks(0.0, 700.0, 3)
    assert [t for t, _ in ticks] == [0.0, 300.0]


@pytest.mark.parametrize("base", list(Base))
@pytest.mark.parametrize("span", [0.5, 3.0, 47.0, 800.0, 40_000.0, 400_000.0])
def test_no_scale_writes_more_than_there_is_room_for(base: Base, span: float) -> None:
    scale = TimeScale(base, MARKS, BEGAN)
    ticks = scale.ticks(12.3, 12.3 + span, 8)
    assert len(ticks) <= 8 + len(MARKS) + 1
    assert [t for t, _ in ticks] == sorted(t for t, _ in ticks)
    assert all(12.2 < t < 12.4 + span for t, _ in ticks)


class Zone(tzinfo):
    """A zone whose clock is put forward or back by an hour at one moment, from three o'clock or from two."""

    def __init__(self, change: datetime, before: int, after: int) -> None:
        self.change, self.before, self.after = change, timedelta(hours=before), timedelta(hours=after)

    def fromutc(self, when: datetime) -> datetime:
        since = when.replace(tzinfo=UTC) - self.change
        early, later = since < timedelta(0), self.before - self.after
        return (when + (self.before if early else self.after)).replace(fold=int(not early and since < later))

    def utcoffset(self, when: datetime | None) -> timedelta | None:
        assert when is not None
        wall = when.replace(tzinfo=None) - self.change.replace(tzinfo=None)
        early = wall < min(self.before, self.after) or (wall < self.before and not when.fold)
        return self.before if early else self.after

    def dst(self, when: datetime | None) -> None:
        del when

    def tzname(self, when: datetime | None) -> None:
        del when


AUTUMN = Zone(datetime(2026, 10, 25, 1, tzinfo=UTC), 2, 1)
SPRING = Zone(datetime(2026, 3, 29, 1, tzinfo=UTC), 1, 2)


def test_the_hour_that_comes_twice_says_so() -> None:
    scale = TimeScale(Base.CLOCK, (), datetime(2026, 10, 25, 0, 30, tzinfo=AUTUMN))
    ticks = scale.ticks(0.0, 4.5 * 3600.0, 9)
    assert [word for _, word in ticks] == [
        *("0:30:00", "1:00:00", "1:30:00", "2:00:00", "2:30:00"),
        *("2:00:00 again", "2:30:00 again", "3:00:00", "3:30:00", "4:00:00"),
    ]
    assert [t for t, _ in ticks] == [1800.0 * n for n in range(10)]
    assert scale.word(8000.0) == "2:43:20"
    assert scale.word(8000.0 + 3600.0) == "2:43:20 again"
    assert scale.word(8000.0 + 7200.0) == "3:43:20"


def test_the_hour_that_does_not_come_is_left_out() -> None:
    scale = TimeScale(Base.CLOCK, (), datetime(2026, 3, 29, 0, 30, tzinfo=SPRING), rate=10.0)
    ticks = scale.ticks(0.0, 36_000.0 * 3.5, 7)
    assert [word for _, word in ticks] == [
        *("0:30:00", "1:00:00", "1:30:00", "3:00:00", "3:30:00", "4:00:00", "4:30:00", "5:00:00"),
    ]
    assert [t for t, _ in ticks] == [18_000.0 * n for n in range(8)]


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of this system is not set by a variable")
def test_when_a_run_began_is_told_in_the_zone_of_this_computer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    try:
        began = began_at("2026-10-25T00:30:00.000Z")
        assert began is not None
        scale = TimeScale(Base.CLOCK, (), began)
        assert [scale.word(1800.0 * n) for n in range(5)] == [
            *("2:30:00", "2:00:00 again", "2:30:00 again", "3:00:00", "3:30:00"),
        ]
    finally:
        monkeypatch.undo()
        time.tzset()
