"""Dwell counts only while the source rests, and is short only below the stage that a trip had ended."""

from benchlog.domain.dwell import Dwell
from benchlog.domain.reentry import Reentry
from benchlog.domain.trace import SECOND


def test_it_counts_only_while_the_source_rests() -> None:
    dwell = Dwell()
    for at, resting in ((0, True), (4, True), (5, False), (20, False), (21, True), (23, True)):
        dwell.count(at * SECOND, resting=resting)
    assert dwell.left(0, 30.0) == 24.0


def test_another_stage_begins_anew() -> None:
    dwell = Dwell()
    for at in (0, 4):
        dwell.count(at * SECOND, resting=True)
    dwell.begin()
    dwell.count(5 * SECOND, resting=True)
    assert dwell.left(1, 30.0) == 30.0


def test_on_the_way_back_it_is_short_below_the_stage_reached_and_full_from_there_on() -> None:
    dwell = Dwell()
    dwell.back = Reentry(back_to=2)
    for at in (0, 4):
        dwell.count(at * SECOND, resting=True)
    assert [dwell.left(index, 30.0) for index in range(4)] == [6.0, 6.0, 26.0, 26.0]
