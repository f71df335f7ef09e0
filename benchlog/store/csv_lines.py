"""Readings of several traces, and what happened beside them, as the lines of a CSV file. No I/O.

Made column by column and not cell by cell: a long run has ten million readings, and a microsecond for each counts.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from benchlog.domain.trace import SECOND

Times = npt.NDArray[np.int64]
Numbers = tuple[Times, npt.NDArray[np.float64], Mapping[int, str]]
"""Readings of one trace: plan times, ns, numbers, infinite where there is none, and by time why."""

_FORMULA = "=+-@\t\r\uff1d\uff0b\uff0d\uff20"
"""What a formula begins with; the last four are the wide signs that some spreadsheets take for the same."""


def line(*cells: str) -> str:
    """Texts as a line."""
    return ",".join(quoted(cell) for cell in cells) + "\r\n"


def quoted(text: str) -> str:
    """A text as a cell: never a formula, whatever a person wrote."""
    harmless = f"'{text}" if text.lstrip(" \N{NO-BREAK SPACE}")[:1] in tuple(_FORMULA) else text
    doubled = harmless.replace('"', '""')
    return f'"{doubled}"'


def lines(names: Sequence[str], read: Sequence[Numbers], told: Sequence[tuple[int, str]]) -> str:
    """The lines of one stretch, a column for each trace and one for what happened; one line for each moment."""
    times, columns, texts = _told_first(names, read, told)
    order = np.argsort(times, kind="stable")
    times = times[order]
    starts = np.flatnonzero(np.diff(times, prepend=times[:1] - 1))
    at = order.tolist()
    columns, texts = [columns[i] for i in at], [texts[i] for i in at]
    last = len(names)
    before = [f",{',' * n}" for n in range(last + 1)]
    after = [f"{',' * (last - n)}\r\n" for n in range(last + 1)]
    seconds = _seconds(times[starts])
    if len(starts) == len(times):
        return "".join(
            [
                f"{when}{before[n]}{text if n < last else quoted(text)}{after[n]}"
                for when, n, text in zip(seconds, columns, texts, strict=True)
            ]
        )
    found = []
    stops = [*starts[1:].tolist(), len(texts)]
    for when, start, stop in zip(seconds, starts.tolist(), stops, strict=True):
        if stop == start + 1:
            n, text = columns[start], texts[start]
            found.append(f"{when}{before[n]}{text if n < last else quoted(text)}{after[n]}")
        else:
            found.append(f"{when},{_together(columns[start:stop], texts[start:stop], last)}\r\n")
    return "".join(found)


def _told_first(
    names: Sequence[str], read: Sequence[Numbers], told: Sequence[tuple[int, str]]
) -> tuple[Times, list[int], list[str]]:
    """Time, column and text of everything, what happened before what was read."""
    last = len(names)
    times = [np.array([t for t, _ in told], dtype=np.int64)]
    columns, texts = [last] * len(told), [text for _, text in told]
    for n, (name, (t, values, why)) in enumerate(zip(names, read, strict=True)):
        start = len(texts)
        times.append(t)
        columns += [n] * len(t)
        texts += map(repr, values.tolist())
        for k in np.flatnonzero(~np.isfinite(values)).tolist():
            columns[start + k] = last
            texts[start + k] = f"{name}: {why[int(t[k])]}"
    return np.concatenate(times), columns, texts


def _together(columns: Sequence[int], texts: Sequence[str], last: int) -> str:
    """What was read and what happened at one moment."""
    cells, said = [""] * last, []
    for n, text in zip(columns, texts, strict=True):
        if n < last:
            cells[n] = text
        else:
            said.append(text)
    return ",".join([*cells, quoted("; ".join(said)) if said else ""])


def _seconds(times: Times) -> list[str]:
    """Nanoseconds as seconds, no digit lost and none too many."""
    if len(times) and times[0] < SECOND:
        split = int(np.searchsorted(times, SECOND))
        return [*map(_one_second, times[:split].tolist()), *_seconds(times[split:])]
    return [f"{text[:-9]}.{text[-9:]}".rstrip("0").rstrip(".") for text in map(str, times.tolist())]


def _one_second(t: int) -> str:
    """A time that may be before the start, or within its first second."""
    whole, rest = divmod(abs(t), SECOND)
    digits = f"{rest:09}".rstrip("0")
    return f"{'-' if t < 0 else ''}{whole}{'.' if digits else ''}{digits}"
