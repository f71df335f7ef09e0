"""A run stage by stage, against plain numpy: ends, extremes, when a trace settled, two runs side by side."""

import numpy as np
import numpy.typing as npt
import pytest

from benchlog.domain.detail import Items, folded, of_readings
from benchlog.domain.plan_trace import Role
from benchlog.domain.stage_numbers import (
    Came,
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

Floats = npt.NDArray[np.float64]
S = 1_000_000_000
SPAN = Span("40 %", 0, -1.0, 0.0, 3000.0)
FROZEN = Happened(5.0, "doubt", trace="+B", doubt="frozen")


def slow_settling(t: Floats, value: Floats, band: float, window: float) -> float | None:
    """The definition itself: the time after the last reading that has one too far from it within the window."""
    apart = np.abs(value[None, :] - value[:, None]) > band
    near = (t[None, :] >= t[:, None]) & (t[None, :] - t[:, None] <= window)
    bad = np.flatnonzero((apart & near).any(axis=1))
    start = float(t[bad[-1] + 1]) if len(bad) else float(t[0])
    return start if t[-1] - start >= 600.0 else None


def read(t: Floats, value: Floats) -> Items:
    return of_readings(np.round(t * S).astype(np.int64), value)


def settled(t: Floats, value: Floats, since: float, role: Role) -> tuple[float | None, str]:
    later, numbers = t >= since, value[np.isfinite(value)]
    return settling(read(t[later], value[later]), numbers[-1] if len(numbers) else None, since, role)


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
    found, _ = settled(t, value, 0.0, role)
    wanted = slow_settling(t, value, band, window)
    assert found == (pytest.approx(wanted) if wanted is not None else None)


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
    assert settled(np.arange(len(value), dtype=np.float64), value, 0.0, Role.OFFSET) == (None, says)


def test_a_hole_in_the_readings_begins_it_anew() -> None:
    t = np.concatenate((np.arange(0.0, 500.0), np.arange(600.0, 2000.0)))
    assert settled(t, np.zeros(len(t)), 0.0, Role.OFFSET) == (600.0, "")
    assert settled(t, np.zeros(len(t)), 700.0, Role.OFFSET) == (0.0, "")


def test_buckets_settle_where_their_readings_do() -> None:
    t = np.linspace(0.0, 5999.9, 60_000)
    value: Floats = np.where(t < 1500.0, 5e-3, 0.0)
    buckets = folded(read(t, value), 10.0 * S)
    assert len(buckets) < 1000
    assert settling(buckets, 0.0, 0.0, Role.OFFSET)[0] == pytest.approx(1500.0, abs=10.0)
    quiet = folded(read(t, np.where((t > 2000.0) & (t < 2000.3), np.nan, 0.0)), 10.0 * S)
    assert settling(quiet, 0.0, 0.0, Role.OFFSET)[0] == pytest.approx(2000.0, abs=10.0)
    silent = read(t, np.zeros(len(t))).only((t < 2000.0) | (t > 2031.0))
    assert settling(folded(silent, 90.0 * S), 0.0, 0.0, Role.OFFSET)[0] == pytest.approx(2031.0, abs=90.0)


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
    came = Came(3, 1.0, 1.0, 1.0, numbered=bool(np.isfinite(last)))
    (row,) = stage_rows([SPAN], [TraceRead("+B", Role.RAIL, "V", (came,), limited)], told)
    assert row.result is result


def test_a_trace_that_read_nothing_at_a_stage_has_no_numbers() -> None:
    (row,) = stage_rows([SPAN], [TraceRead("+B", None, "V", (Came(),))], [])
    assert (row.final, row.lowest, row.highest, row.result) == (None, None, None, Result.NOTHING)


def test_two_runs_stand_side_by_side_with_their_differences() -> None:
    def rows(shift: float, names: tuple[str, ...]) -> list[TraceRead]:
        came = Came(10, 9.0 + shift, shift, 9.0 + shift)
        return [TraceRead(name, Role.RAIL, "V", (came,)) for name in names]

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
