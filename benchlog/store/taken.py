"""Part readings that a recorder took: from its message to the library, which knows them by id."""

import json
import math
import sqlite3
from collections.abc import Mapping
from pathlib import Path

from benchlog.domain.reading import Function, Outcome
from benchlog.domain.unit import Conditions, PartReading
from benchlog.errors import Damaged
from benchlog.store.changes import insert
from benchlog.store.part_rows import conditions_of, is_kept, placed, row_of_reading


def reading_of(body: Mapping[str, object]) -> PartReading:
    """The part reading a `taken` message stands for; KeyError, TypeError or ValueError if it is none.

    Besides the message's own fields it may carry `round`, `visit`, `session`, `typed` and `conditions`.
    """
    flags = body.get("flags") or ()
    conditions, beside = body.get("conditions") or {}, body.get("beside") or {}
    if not isinstance(flags, list | tuple) or not isinstance(conditions, Mapping):
        raise TypeError("flags are a list and conditions a table")
    if not isinstance(beside, Mapping):
        raise TypeError("what comes beside a value is a table")
    outcome = Outcome(_text(body, "outcome"))
    value = _number(body, "value")
    if (outcome is Outcome.OK) != (value is not None):
        raise ValueError(f"{outcome} with value {value}")
    return PartReading(
        id=_text(body, "reading"),
        designator=_text(body, "designator"),
        function=Function(_text(body, "function")),
        outcome=outcome,
        value=value,
        unit=_text(body, "unit"),
        raw=_text(body, "raw"),
        taken=_text(body, "utc"),
        fitted=_text(body, "part", ""),
        round=_text(body, "round", ""),
        visit=_text(body, "visit", ""),
        session=_text(body, "session", ""),
        job=_text(body, "job", ""),
        resolution=_number(body, "resolution"),
        settled=bool(body.get("settled", True)),
        typed=bool(body.get("typed", False)),
        negative=bool(body.get("negative", False)),
        flags=tuple(map(str, flags)),
        error=_number(body, "error"),
        nulled=_number(body, "nulled"),
        beside=tuple((str(word), _given(beside, word)) for word in beside),
        conditions=conditions_of(conditions) if conditions else Conditions(),
        measure=_text(body, "measure", ""),
    )


def copy_taken(library: sqlite3.Connection, session: sqlite3.Connection, path: Path) -> int:
    """Copy into the library what it lacks of the readings taken in a session; how many those were.

    `Damaged` names the first that cannot be understood; nothing is copied then.
    """
    id_, visit = session.execute("SELECT id, visit FROM session").fetchone()
    lacking = [
        (reading, body)
        for reading, body in session.execute("SELECT id, body FROM taken ORDER BY t, id").fetchall()
        if not is_kept(library, reading)
    ]
    try:
        readings = [
            reading_of({"session": id_, **json.loads(body), "reading": reading}) for reading, body in lacking
        ]
    except (KeyError, TypeError, ValueError) as error:
        raise Damaged(str(path), f"holds a part reading that cannot be understood ({error!r})") from error
    for reading in readings:
        insert(library, "reading", row_of_reading(placed(library, reading, visit)))
    return len(readings)


def _text(body: Mapping[str, object], name: str, default: str | None = None) -> str:
    value = body[name] if default is None else body.get(name, default)
    if not isinstance(value, str):
        raise TypeError(f"{name} is no text")
    return value


def _given(body: Mapping[str, object], name: str) -> float:
    value = _number(body, name)
    if value is None:
        raise TypeError(f"{name} is missing")
    return value


def _number(body: Mapping[str, object], name: str) -> float | None:
    value = body.get(name)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError(f"{name} is no number")
    return float(value)
