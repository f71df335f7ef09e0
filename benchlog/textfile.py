"""TOML files from people, read into frozen dataclasses with all faults at once.

A file kind is a dataclass (a *shape*) whose fields are made by `key`. The reader knows these
annotations: `str`, `int`, `float` (takes whole numbers; refuses true/false, nan and inf), `bool`,
`date`, `datetime` (must say its distance from UTC, comes as UTC), a `StrEnum`, `X | None`,
`tuple[X, ...]`, `dict[str, X]` and another shape. A field whose name would be a Python keyword
carries a trailing underscore: `from_` reads the key `from`.

A shape may have a method `faults()` that yields (key path below it, problem, fix) for what the
single values cannot tell; it is called once the table itself could be built, also where a table
below it has faults of this kind, and must not fail then. A shape that is a
whole file has the class attributes `FILE` ("benchlog plan") and `VERSION` (1); then the first key
of the file must be `file = "benchlog plan 1"`, and a newer one is refused before anything else.

In a key path the entries of an array are counted from 1: `stage[2].dwell` is the second stage's.
"""

import contextlib
import dataclasses
import difflib
import functools
import json
import math
import re
import tomllib
import types
import typing
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar, cast

from benchlog.errors import BadInput, Fault
from benchlog.tomlfaults import remedy

T = TypeVar("T")

LARGEST_FILE = 16 << 20
"""No file a person writes by hand is longer than this, in bytes."""

_LARGEST_INT = (1 << 63) - 1
_LONGEST_SHOWN = 60
_FAILED = object()
_AT = re.compile(r"^(?P<what>.*) \(at (?P<where>line \d+, column \d+|end of document)\)$", re.DOTALL)
_BARE = re.compile(r"[A-Za-z0-9_-]+")


class Missing:
    """The type of `MISSING`."""


MISSING = Missing()
"""Says that a key has no default and must be written."""


@dataclasses.dataclass(frozen=True, slots=True)
class Rule:
    """What `key` says about one field beyond its annotation; bounds belong to the range."""

    about: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()


def key(
    about: str,
    *,
    default: Any = MISSING,
    default_factory: Callable[[], Any] | Missing = MISSING,
    unit: str = "",
    low: float | None = None,
    high: float | None = None,
    choices: tuple[str, ...] = (),
) -> Any:
    """A field of a shape: what it is for, its default, unit, bounds (included) and allowed words.

    Bounds and words hold for each entry where the field is an array or a table of values. The
    field can only be given by name, so keys with and without a default stand in any order.
    """
    metadata = {"rule": Rule(about, unit, low, high, choices)}
    if not isinstance(default_factory, Missing):
        return dataclasses.field(default_factory=default_factory, kw_only=True, metadata=metadata)
    if default is MISSING:
        return dataclasses.field(kw_only=True, metadata=metadata)
    return dataclasses.field(default=default, kw_only=True, metadata=metadata)


class Faults:
    """Collects what is wrong in one file; `name` is the file name shown."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.unread = 0
        """Faults for which a value could not be made at all; the tables around it are not judged."""
        self._found: list[Fault] = []

    def add(self, key_path: str, problem: str, fix: str = "", *, unread: bool = True) -> None:
        """One more fault, at a key path or a line; an empty path means the file as a whole."""
        self.unread += unread
        self._found.append(Fault(f"{self.name}: {key_path}" if key_path else self.name, problem, fix))

    def raise_any(self) -> None:
        """Raise `BadInput` with everything collected, or do nothing."""
        if self._found:
            raise BadInput.of(self._found)

    def __len__(self) -> int:
        return len(self._found)


def read(path: Path, shape: type[T]) -> T:
    """The file at `path` as a `shape`; `BadInput` names the file and every fault in it."""
    return parse(read_text(path), path.name, shape)


def read_text(path: Path) -> str:
    """The text of a file from a person, a byte-order mark dropped; `BadInput` where it cannot be had."""
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise BadInput(str(path), "there is no such file", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadInput(_printable(str(path)), f"cannot be read ({reason})") from None
    if len(data) > LARGEST_FILE:
        raise BadInput(str(path), f"is longer than {LARGEST_FILE >> 20} MiB", "give a file written by hand")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BadInput(f"{path.name}: line {line}", "is not UTF-8 text", "save the file as UTF-8") from None


def parse(text: str, name: str, shape: type[T]) -> T:
    """The same from text; `name` is the file name shown in every message."""
    table = _toml(text, name)
    faults = Faults(name)
    if hasattr(shape, "FILE"):
        _check_kind(table, shape, faults)
        faults.raise_any()
    made = _table(table, "", shape, faults)
    faults.raise_any()
    return cast(T, made)


def write(made: Any) -> str:
    """The text of a shape that is a whole file; `parse` gives the same shape back. Defaults are left out."""
    head = [f'file = "{made.FILE} {made.VERSION}"']
    tables = []
    for name, value in _said(made):
        if dataclasses.is_dataclass(value):
            tables.append((f"[{name}]", value))
        elif isinstance(value, tuple) and value and all(dataclasses.is_dataclass(one) for one in value):
            tables.extend((f"[[{name}]]", one) for one in value)
        elif name != "file":
            head.append(f"{name} = {_written(value)}")
    blocks = ["\n".join(head)]
    blocks += [
        "\n".join([title, *(f"{name} = {_written(one)}" for name, one in _said(table))])
        for title, table in tables
    ]
    return "\n\n".join(blocks) + "\n"


def _said(made: Any) -> list[tuple[str, Any]]:
    """Key in the file and value of every field that says more than its default."""
    found = []
    for field in dataclasses.fields(made):
        value = getattr(made, field.name)
        default = MISSING if field.default is dataclasses.MISSING else field.default
        if value is not None and value not in (default, {}):
            found.append((field.name.removesuffix("_"), value))
    return found


def _written(value: Any) -> str:
    """A value as TOML writes it; JSON's escapes are TOML's, but for one control character."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return "[" + ", ".join(_written(one) for one in value) + "]"
    pairs = (
        _said(value)
        if dataclasses.is_dataclass(value)
        else value.items()
        if isinstance(value, Mapping)
        else None
    )
    if pairs is not None:
        return "{ " + ", ".join(f"{name} = {_written(one)}" for name, one in pairs) + " }"
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """`did you mean "dwell"?` for a mistyped word, or an empty text where nothing is near."""
    if len(word) > _LONGEST_SHOWN:
        return ""
    names = list(known)
    folded = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    return f'did you mean "{folded[near[0]]}"?' if near else ""


def _toml(text: str, name: str) -> dict[str, Any]:
    """The table of a TOML text; every way it can fail becomes `BadInput` with its place."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise BadInput(name, "is nested too deeply", "write fewer brackets inside brackets") from None
    except ValueError as error:  # also a number with thousands of digits, which carries no place
        found = _AT.match(str(error))
        what = _printable(found["what"]) if found else "holds a number with too many digits"
        place = name
        if found:
            last = f"line {text.count(chr(10)) + 1}"
            place = f"{name}: {last if found['where'] == 'end of document' else found['where']}"
        raise BadInput(place, what[:1].lower() + what[1:], remedy(what)) from None


def _check_kind(table: Mapping[str, Any], shape: type[Any], faults: Faults) -> None:
    """Refuse a file of another kind, or one written for a newer benchlog."""
    kind, version = cast(str, shape.FILE), cast(int, shape.VERSION)
    fix = f'the first line must be file = "{kind} {version}"'
    if "file" not in table:
        faults.add("file", "is missing", fix)
        return
    said = table["file"]
    name, _, number = said.rpartition(" ") if isinstance(said, str) else ("", "", "")
    if name != kind or not re.fullmatch(r"[1-9][0-9]{0,8}", number):
        faults.add("file", f"{_shown(said)} is not a {kind} file", fix)
    elif int(number) > version:
        problem = f"was written for a newer benchlog ({kind} {number}; this one reads up to {version})"
        faults.add("file", problem, "update benchlog")


@functools.cache
def _fields(shape: type[Any]) -> dict[str, tuple[str, Any, Rule, bool]]:
    """Key in the file -> (field name, annotation, rule, whether it must be written)."""
    hints = typing.get_type_hints(shape)
    found = {}
    for field in dataclasses.fields(shape):
        needed = field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
        rule = field.metadata.get("rule", Rule())
        found[field.name.removesuffix("_")] = (field.name, hints[field.name], rule, needed)
    return found


def _table(table: Mapping[str, Any], path: str, shape: type[Any], faults: Faults) -> object:
    """A table as a `shape`, or `_FAILED` with its faults added."""
    known = _fields(cast(Any, shape))
    before = faults.unread
    values: dict[str, object] = {}
    for name, value in table.items():
        if name in known:
            field, want, rule, _ = known[name]
            values[field] = _convert(value, want, _below(path, name), rule, faults)
        elif path or name != "file" or not hasattr(shape, "FILE"):
            fix = did_you_mean(name, known) or f"known here: {', '.join(known)}"
            faults.add(_below(path, name), "is not a known key", fix)
    for name, (_, _, rule, needed) in known.items():
        if needed and name not in table:
            unit = f", in {rule.unit}" if rule.unit else ""
            faults.add(_below(path, name), "is missing", f"add it: {rule.about}{unit}" if rule.about else "")
    if faults.unread > before:
        return _FAILED
    made = shape(**values)
    for below, problem, fix in getattr(made, "faults", tuple)():
        faults.add(_below(path, below, quoted=False), problem, fix, unread=False)
    return made


def _convert(value: Any, want: Any, path: str, rule: Rule, faults: Faults) -> object:
    """One value as its annotation asks, or `_FAILED` with its faults added."""
    origin, inner = typing.get_origin(want), typing.get_args(want)
    if origin in (typing.Union, types.UnionType):
        (want,) = (choice for choice in inner if choice is not type(None))
        return _convert(value, want, path, rule, faults)
    if origin is tuple:
        return _array(value, inner[0], path, rule, faults)
    if origin is dict:
        return _dict(value, inner[1], path, rule, faults)
    if dataclasses.is_dataclass(want):
        if isinstance(value, dict):
            return _table(value, path, cast(type[Any], want), faults)
        faults.add(path, f"{_shown(value)} is not a table", f"write it as [{path}] with its keys below")
        return _FAILED
    if issubclass(want, StrEnum):
        return _word(value, want, path, faults)
    return _SCALARS[want](value, path, rule, faults)


def _array(value: Any, want: Any, path: str, rule: Rule, faults: Faults) -> object:
    if not isinstance(value, list):
        faults.add(path, f"{_shown(value)} is not a list", "put it in [brackets]")
        return _FAILED
    return tuple(_convert(one, want, f"{path}[{n}]", rule, faults) for n, one in enumerate(value, 1))


def _dict(value: Any, want: Any, path: str, rule: Rule, faults: Faults) -> object:
    if not isinstance(value, dict):
        faults.add(path, f"{_shown(value)} is not a table", f"write it as [{path}] with its keys below")
        return _FAILED
    return {name: _convert(one, want, _below(path, name), rule, faults) for name, one in value.items()}


def _word(value: Any, want: type[StrEnum], path: str, faults: Faults) -> object:
    words = tuple(str(member.value) for member in want)
    if isinstance(value, str) and value in words:
        return want(value)
    _not_a_choice(value, words, path, faults)
    return _FAILED


def _string(value: Any, path: str, rule: Rule, faults: Faults) -> object:
    if not isinstance(value, str):
        faults.add(path, f"{_shown(value)} is not text", "put it in quotes")
        return _FAILED
    if rule.choices and value not in rule.choices:
        _not_a_choice(value, rule.choices, path, faults)
        return _FAILED
    return value


def _boolean(value: Any, path: str, _rule: Rule, faults: Faults) -> object:
    if isinstance(value, bool):
        return value
    faults.add(path, f"{_shown(value)} is neither true nor false", "write true or false without quotes")
    return _FAILED


def _integer(value: Any, path: str, rule: Rule, faults: Faults) -> object:
    if isinstance(value, int) and not isinstance(value, bool):
        return _bounded(value, path, rule, faults)
    faults.add(path, f"{_shown(value)} is not a whole number", "write it without quotes and without a point")
    return _FAILED


def _floating(value: Any, path: str, rule: Rule, faults: Faults) -> object:
    if isinstance(value, int | float) and not isinstance(value, bool):
        bounded = _bounded(value, path, rule, faults)
        return bounded if bounded is _FAILED else float(value)
    unit = f", in {rule.unit}" if rule.unit else ""
    faults.add(path, f"{_shown(value)} is not a number", f"write it without quotes and without a unit{unit}")
    return _FAILED


def _date(value: Any, path: str, _rule: Rule, faults: Faults) -> object:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    faults.add(path, f"{_shown(value)} is not a date", "write it without quotes, as in 2026-05-03")
    return _FAILED


def _moment(value: Any, path: str, _rule: Rule, faults: Faults) -> object:
    if isinstance(value, datetime) and value.tzinfo is not None:
        with contextlib.suppress(OverflowError):  # the first or last day there is
            return value.astimezone(UTC)
    fix = "write date, time and Z for UTC without quotes, as in 2026-05-03T10:15:00Z"
    faults.add(path, f"{_shown(value)} is not a moment", fix)
    return _FAILED


_SCALARS: dict[type, Callable[[Any, str, Rule, Faults], object]] = {
    date: _date,
    datetime: _moment,
    str: _string,
    bool: _boolean,
    int: _integer,
    float: _floating,
}


def _bounded(value: float, path: str, rule: Rule, faults: Faults) -> object:
    """The number itself where it is finite and within its bounds."""
    if isinstance(value, int) and abs(value) > _LARGEST_INT:
        faults.add(path, "is a whole number too large to keep", "write a smaller one")
        return _FAILED
    if not math.isfinite(value):
        faults.add(path, f"{_shown(value)} is not a finite number", "write an ordinary number")
        return _FAILED
    low = -math.inf if rule.low is None else rule.low
    high = math.inf if rule.high is None else rule.high
    if low <= value <= high:
        return value
    unit = f" {rule.unit}" if rule.unit else ""
    if rule.low is None:
        fix = f"at most {rule.high:g}{unit}"
    elif rule.high is None:
        fix = f"at least {rule.low:g}{unit}"
    else:
        fix = f"between {rule.low:g} and {rule.high:g}{unit}"
    faults.add(path, f"{_shown(value)} is out of bounds", fix)
    return _FAILED


def _not_a_choice(value: Any, words: Iterable[str], path: str, faults: Faults) -> None:
    said = did_you_mean(value, words) if isinstance(value, str) else ""
    faults.add(path, f"{_shown(value)} is not a choice here", said or f"one of: {', '.join(words)}")


def _below(path: str, name: str, *, quoted: bool = True) -> str:
    """The key path of `name` below `path`; odd keys are quoted as TOML does."""
    if quoted and not _BARE.fullmatch(name):
        name = _printable(json.dumps(name[:_LONGEST_SHOWN], ensure_ascii=False))
    return f"{path}.{name}" if path and name else path or name


def _shown(value: Any) -> str:
    """A value as it stands in the file, short enough for one sentence."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        short = value if len(value) <= _LONGEST_SHOWN else value[:_LONGEST_SHOWN] + "..."
        return _printable(json.dumps(short, ensure_ascii=False))
    if isinstance(value, int) and abs(value) > _LARGEST_INT:
        return "a very large number"
    return str(value)


def _printable(text: str) -> str:
    """The text with every character that could move a cursor or hide another written as an escape."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)
