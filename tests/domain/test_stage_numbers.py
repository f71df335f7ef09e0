"""A run stage by stage, against plain numpy: ends, extremes, when a trace settled, two runs side by side."""

import numpy as np
import pytest

from benchlog.domain.plan_trace import Role
from benchlog.domain.stage_numbers import (
    Floats,
    Happened,
    Pair,
    Result,
    Span,
    TraceRead,
    paired,
    settling,
    spans,
    stage_rows,
)

SPAN = Span("40 %", 0, -1.0, 0.0, 3000.0)
FROZEN = Happened(5.0, "doubt", trace="+B", doubt="frozen")


def slow_settling(t: Floats, value: Floats, band: float, window: float) -> float | None:
    """The definition itself: the time after the last reading that has one too far from it within the window."""
    apart = np.abs(value[None, :] - value[:, None]) > band
    near = (t[None, :] >= t[:, None]) & (t[None, :] - t[:, None] <= window)
    bad = np.flatnonzero((apart & near).any(axis=1))
    start = float(t[bad[-1] + 1]) if len(bad) else float(t[0])
    return start if t[-1] - start >= 600.0 else None


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(
    ("role", "scale", "window"),
    [(Role.OFFSET, 1e-3, 600.0), (Role.SINK, 0.5, 300.0), (Role.IDLE, 0.3e-3, 600.0)],
)
def test_when_a_trace_settled_is_as_its_definition_has_it(
    role: Role, scale: float, window: float, seed: int
) -> None:
    chance = np.random.default_rng(seed)
    t = np.cumsum(chance.uniform(0.5, 8.0, 500)).astype(np.float64)
    value: Floats = 5.0 * scale * np.exp(
        -t / chance.uniform(100.0, 900.0)
    ) + 0.12 * scale * chance.standard_normal(500)
    value += 0.015 if role is Role.IDLE else 0.0
    band = max(0.02 * abs(value[-1]), 0.2e-3) if role is Role.IDLE else scale
    found, _ = settling(t, value, 0.0, role)
    wanted = slow_settling(t, value, band, window)
    assert found == (pytest.approx(wanted) if wanted is not None else None)


def test_extremes_and_end_of_each_stage_are_those_of_numpy() -> None:
    chance = np.random.default_rng(1)
    t = np.linspace(0.0, 499.5, 1000)
    value = chance.standard_normal(1000)
    value[chance.integers(0, 1000, 50)] = np.nan
    stays = (Span("10 %", 0, 0.0, 2.0, 100.2), Span("40 %", 1, 100.2, 110.0, 499.5))
    rows = stage_rows(stays, [TraceRead("+B", Role.RAIL, "V", t, value)], [])
    for row, inside in zip(rows, ((t > 0.0) & (t <= 100.2), (t > 100.2) & (t <= 499.5)), strict=True):
        numbers = value[inside & np.isfinite(value)]
        assert (row.final, row.lowest, row.highest) == (numbers[-1], np.min(numbers), np.max(numbers))
        assert (row.settled, row.unsettled) == (None, "follows the mains")


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (np.zeros(100), "too short"),
        (np.full(2000, np.nan), "too short"),
        (np.arange(2000) * 1e-4, "not settled"),
        (np.where(np.arange(2000) == 1900, np.nan, 0.0), "not settled"),
    ],
)
def test_what_did_not_settle_says_so(value: Floats, says: str) -> None:
    assert settling(np.arange(len(value), dtype=np.float64), value, 0.0, Role.OFFSET) == (None, says)


def test_a_hole_in_the_readings_begins_it_anew() -> None:
    t = np.concatenate((np.arange(0.0, 500.0), np.arange(600.0, 2000.0)))
    assert settling(t, np.zeros(len(t)), 0.0, Role.OFFSET) == (600.0, "")
    assert settling(t, np.zeros(len(t)), 700.0, Role.OFFSET) == (0.0, "")


def test_very_many_readings_settle_where_few_do() -> None:
    t = np.linspace(0.0, 5999.99, 600_000)
    value: Floats = np.where(t < 1500.0, 5e-3, 0.0)
    found, _ = settling(t, value, 0.0, Role.OFFSET)
    assert found == pytest.approx(1500.0, abs=0.2)


def test_stays_at_stages_end_where_they_are_left_and_one_may_come_twice() -> None:
    told = [
        Happened(0.0, "armed"),
        Happened(1.0, "stage", "10 %", 0, "moving"),
        Happened(5.0, "stage", "10 %", 0, "dwelling"),
        Happened(15.0, "stage", "10 %", 0, "ready"),
        Happened(20.0, "stage", "40 %", 1, "setting"),
        Happened(22.0, "stage", "40 %", 1, "moving"),
        Happened(30.0, "stage", "10 %", 0, "dwelling"),
        Happened(40.0, "off"),
        Happened(41.0, "stage", "10 %", 0, "tail"),
    ]
    assert spans(told, 50.0) == (
        Span("10 %", 0, 1.0, 5.0, 20.0),
        Span("40 %", 1, 22.0, 22.0, 30.0),
        Span("10 %", 0, 30.0, 30.0, 40.0, again=1),
    )
    assert [span.called for span in spans(told, 50.0)] == ["10 %", "40 %", "10 %, stay 2"]
    assert spans(told[:3], 50.0) == (Span("10 %", 0, 1.0, 5.0, 50.0),)


@pytest.mark.parametrize(
    ("told", "last", "limited", "result"),
    [
        ([Happened(5.0, "trip", trace="+B"), Happened(4.0, "warn", trace="+B")], 1.0, True, Result.TRIPPED),
        ([Happened(5.0, "trip", trace="-B")], 1.0, True, Result.HELD),
        ([], np.nan, True, Result.LOST),
        ([FROZEN], 1.0, True, Result.DOUBTED),
        ([FROZEN, Happened(6.0, "doubt", trace="+B")], 1.0, True, Result.HELD),
        ([Happened(5.0, "warn", trace="+B")], 1.0, True, Result.WARNED),
        ([Happened(9000.0, "warn", trace="+B")], 1.0, False, Result.UNWATCHED),
    ],
)
def test_what_became_of_a_trace(told: list[Happened], last: float, limited: bool, result: Result) -> None:
    value = np.array([1.0, 1.0, last])
    (row,) = stage_rows([SPAN], [TraceRead("+B", Role.RAIL, "V", np.arange(3.0), value, limited)], told)
    assert row.result is result


def test_a_trace_that_read_nothing_at_a_stage_has_no_numbers() -> None:
    (row,) = stage_rows([SPAN], [TraceRead("+B", None, "V", np.empty(0), np.empty(0))], [])
    assert (row.final, row.lowest, row.highest, row.result) == (None, None, None, Result.NOTHING)


def test_two_runs_stand_side_by_side_with_their_differences() -> None:
    def rows(shift: float, names: tuple[str, ...]) -> list[TraceRead]:
        t = np.arange(10.0)
        return [TraceRead(name, Role.RAIL, "V", t, t + shift) for name in names]

    one = stage_rows([SPAN], rows(0.0, ("+B", "-B")), [])
    two = stage_rows([SPAN], rows(0.5, ("+B", "lamp")), [])
    both, mine, other = paired(one, two)
    assert [both.difference(number) for number in ("final", "lowest", "highest", "settled")] == [
        0.5,
        0.5,
        0.5,
        None,
    ]
    assert (mine.row.trace, mine.two, mine.difference("final")) == ("-B", None, None)
    assert (other.row.trace, other.one) == ("lamp", None)
    with pytest.raises(ValueError, match="a pair of nothing"):
        _ = Pair(None, None).row
