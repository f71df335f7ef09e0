"""Two runs laid on each other, by start and by stage, and their traces matched."""

import math

from benchlog.domain.aligning import By, Piece, matched, pieces
from benchlog.domain.plan_trace import Role, TracePlan

OWN = ((10.0, "10 %"), (100.0, "20 %"), (300.0, "40 %"))


def laid(other: tuple[tuple[float, str], ...], t: float) -> float | None:
    """Where a moment of the other run stands in this one."""
    found = [t + one.shift for one in pieces(OWN, other, By.STAGE) if one.from_t <= t < one.to_t]
    assert len(found) <= 1
    return found[0] if found else None


def test_by_start_nothing_is_moved() -> None:
    assert pieces(OWN, ((5.0, "10 %"),), By.START) == (Piece(-math.inf, math.inf, 0.0),)


def test_each_stage_begins_where_this_run_reached_it() -> None:
    other = ((5.0, "10 %"), (40.0, "20 %"), (400.0, "40 %"))
    assert laid(other, 0.0) == 5.0
    assert laid(other, 5.0) == 10.0
    assert laid(other, 39.0) == 44.0
    assert laid(other, 40.0) == 100.0
    # Its 20 % lasted longer than here: what went beyond lies over nothing of the next stage.
    assert laid(other, 239.0) == 299.0
    assert laid(other, 241.0) is None
    assert laid(other, 1000.0) == 900.0


def test_a_stage_that_this_run_has_not_is_left_out() -> None:
    other = ((5.0, "10 %"), (40.0, "15 %"), (60.0, "20 %"))
    assert laid(other, 50.0) is None
    assert laid(other, 60.0) == 100.0
    assert pieces(OWN, ((5.0, "cold"),), By.STAGE) == ()
    assert pieces((), ((5.0, "cold"),), By.STAGE) == ()


def test_the_second_stay_lies_on_the_second_stay() -> None:
    own = ((0.0, "10 %"), (50.0, "20 %"), (80.0, "10 %"))
    other = ((0.0, "10 %"), (20.0, "20 %"), (30.0, "10 %"), (90.0, "20 %"))
    assert [(one.from_t, one.to_t, one.shift) for one in pieces(own, other, By.STAGE)] == [
        (-math.inf, 20.0, 0.0),
        (20.0, 30.0, 30.0),
        (30.0, 90.0, 50.0),
    ]


def offset(name: str, side: str) -> TracePlan:
    return TracePlan(name=name, role=Role.OFFSET, meter="m", side=side)


def test_the_same_name_first_and_the_other_side_where_there_is_no_such() -> None:
    left, right = offset("offset L", "left"), offset("offset R", "right")
    lamp = TracePlan(name="lamp", role=Role.LAMP, meter="m")
    assert matched((left, lamp), (right, left, lamp)) == {"offset L": "offset L", "lamp": "lamp"}
    assert matched((left, lamp), (right,)) == {"offset L": "offset R"}
    assert matched((left, right, lamp), (right, left, lamp), sides_swapped=True) == {
        "offset L": "offset R",
        "offset R": "offset L",
        "lamp": "lamp",
    }


def test_a_trace_of_another_role_is_never_held_against_it() -> None:
    plus = TracePlan(name="+B", role=Role.RAIL, meter="m")
    minus = TracePlan(name="+B", role=Role.RAIL, meter="m", sign=-1)
    assert matched((plus,), (minus,)) == {}
    assert matched((plus,), (TracePlan(name="+B", role=Role.LAMP, meter="m"),)) == {}
