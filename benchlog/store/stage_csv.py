"""The table of a run stage by stage as a CSV file, of two runs with their differences."""

import os
from collections.abc import Iterator
from pathlib import Path

from benchlog.domain.stage_numbers import Pair, StageRow, paired
from benchlog.store import csv_lines
from benchlog.store.opening import plain_errors
from benchlog.store.run_csv import free_name, part_of
from benchlog.store.run_stages import stages

NUMBERS = ("final", "lowest", "highest", "settled")
_HEADS = ("final", "lowest", "highest", "settled after, s")


def write(session: Path, other: Path | None, folder: Path) -> Path:
    """Write the table of one run, or of two side by side, to the folder, beside what lies there; the file made.

    Numbers in the trace's unit as they were read; a cell without one is empty.
    """
    with plain_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
        target = free_name(folder, f"{session.stem} by stage", ".csv")
        rows = _one(session) if other is None else _two(session, other)
        with part_of(target) as (part, stream):
            stream.write("".join(rows).encode("utf-8-sig"))
            stream.flush()
            os.fsync(stream.fileno())
            stream.close()
            part.replace(target)
    return target


def _one(session: Path) -> Iterator[str]:
    yield csv_lines.line("stage", "trace", "unit", *_HEADS, "why not settled", "result")
    for row in stages(session):
        yield _line(row, [*_numbers(row), csv_lines.quoted(row.unsettled), csv_lines.quoted(row.result)])


def _two(session: Path, other: Path) -> Iterator[str]:
    yield csv_lines.line("run", session.stem)
    yield csv_lines.line("other", other.stem)
    heads = (head for name in _HEADS for head in (name, f"{name}, other", f"{name}, difference"))
    yield csv_lines.line("stage", "trace", "unit", *heads, "result", "result, other")
    for pair in paired(stages(session), stages(other)):
        yield _line(
            pair.row, [*_both(pair), *(csv_lines.quoted(_result(row)) for row in (pair.one, pair.two))]
        )


def _line(row: StageRow, cells: list[str]) -> str:
    named = (csv_lines.quoted(text) for text in (row.span.called, row.trace, row.unit or "state"))
    return ",".join([*named, *cells]) + "\r\n"


def _numbers(row: StageRow | None) -> list[str]:
    return [_number(getattr(row, name, None)) for name in NUMBERS]


def _both(pair: Pair) -> Iterator[str]:
    for name, one, two in zip(NUMBERS, _numbers(pair.one), _numbers(pair.two), strict=True):
        yield from (one, two, _number(pair.difference(name)) if pair.row.unit else "")


def _number(value: float | None) -> str:
    return "" if value is None else repr(value)


def _result(row: StageRow | None) -> str:
    return "no such stage or trace" if row is None else row.result
