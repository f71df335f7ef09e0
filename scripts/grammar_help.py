"""Writes resources/help/profiles.md and bench.md from the grammars themselves, so that they cannot differ.

Run it after a key was added or changed: python3 scripts/grammar_help.py
"""

import dataclasses
import json
import types
import typing
from collections.abc import Iterator
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from benchlog import resources
from benchlog.instruments.bench import Bench
from benchlog.instruments.profile import ProfileFile, find_profile
from benchlog.textfile import Rule

HELP = Path(__file__).resolve().parent.parent / "resources" / "help"

PROFILES = """# Profiles

A profile says how to talk to one kind of instrument. It is a file in TOML, it is data, and nothing in it is ever
run: commands are literal text with places to fill in, identities are globs, replies are read by one of a closed
list of forms. Your own profiles go into the folder `profiles` of your library; one of the same file name as a
shipped one takes its place. Every mistake in a file is named at once, with its place and what to write instead.

    .venv/bin/benchlog read ADDRESS --profile NAME

tries one. Shipped are:

{shipped}

## How a reading is written

| form | what the instrument sends |
|---|---|
| `scpi` | a number as IEEE 488.2 writes it: `12`, `-12.50`, `+1.25E-03`; 9.9E37 is an overload, 9.91E37 no number |
| `list` | such numbers with commas between them; `item` is the reading, `beside` what goes with it |
| `decorated` | a number with its unit and annunciators behind it: `-101.234e-3 V DC HOLD` |
| `frame` | the segments of its display, in frames of a fixed length |

What is no number is never read as one: it is kept as it came, without a value.

## How far it can be off

`accuracy` is written as data sheets do: `0.5%+2` is half a per cent of the reading and two counts of the last
digit; `0.002%+0.0005% of range` takes a share of the range. Counts need the last digit, which a decorated number
or a display shows and a `range` can state; a share of the range needs the range in use: the one selected, or the
one asked back by `ask_range`. Where one of these is not known the error of a reading is unknown, and is said to
be. What a bench file says of a meter takes the place of what its profile says.

"""

BENCHES = """# Bench files

A bench file lists the instruments in use, each by its job, and the off-switches. The Bench page writes one; this
is what it may hold. `benches` of your library is where the window keeps them.

A lead null (`null`) is what the meter shows in ohms with its tips touching each other. It is taken off two-wire
ohms for one hour, and each reading says that it was.

"""


def main() -> None:
    """Write both pages."""
    HELP.mkdir(exist_ok=True)
    for name, text in pages().items():
        (HELP / name).write_text(text, encoding="utf-8", newline="\n")


def pages() -> dict[str, str]:
    """The text of each page, by file name."""
    names = sorted(path.stem for path in resources.path("profiles").glob("*.toml"))
    shipped = "\n".join(f"- `{name}`: {find_profile(name).name}" for name in names)
    return {
        "profiles.md": PROFILES.format(shipped=shipped) + grammar(ProfileFile),
        "bench.md": BENCHES + grammar(Bench),
    }


def grammar(shape: Any) -> str:
    """Every table of a kind of file, the outermost first."""
    first = f'The first line of the file is `file = "{shape.FILE} {shape.VERSION}"`.\n\n'
    seen: set[Any] = set()
    return first + "\n".join(_tables(shape, "", seen))


def _tables(shape: Any, path: str, seen: set[Any]) -> Iterator[str]:
    """A table and those below it; one that stands in two places is told at the first."""
    if shape in seen:
        return
    seen.add(shape)
    hints = typing.get_type_hints(shape)
    lines, below = [], []
    for field in dataclasses.fields(shape):
        rule: Rule = field.metadata["rule"]
        name = field.name.removesuffix("_")
        kind, inner, how = _kind(hints[field.name])
        if inner is not None:
            inside = f"{path}.{name}" if path else name
            below.append((inner, inside + how))
        lines.append(f"| `{name}` | {rule.about} | {_value(kind, rule)} | {_default(field)} |")
    what = (shape.__doc__ or "").strip().split("\n")[0]
    title = f"## `{_header(path)}`" if path else "## The outermost table"
    yield (
        f"{title}\n\n{what}\n\n| key | what it is | value | left out |\n|---|---|---|---|\n"
        + "\n".join(lines)
        + "\n"
    )
    for inner, inside in below:
        yield from _tables(inner, inside, seen)


def _header(path: str) -> str:
    """How a table's head is written: `[[meter]]` where there may be several."""
    return (
        f"[[{path.removesuffix('[]')}]]".replace("[]", "")
        if path.endswith("[]")
        else f"[{path}]".replace("[]", "")
    )


def _kind(hint: Any) -> tuple[str, Any, str]:
    """What a value is, in words; the shape of a table; what its path gets behind it."""
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        (hint,) = (one for one in typing.get_args(hint) if one is not type(None))
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple:
        kind, shape, _ = _kind(inner[0])
        return ("tables" if shape else f"list of {kind}"), shape, "[]"
    if origin is dict:
        kind, shape, how = _kind(inner[1])
        return f"table of {kind} by name", shape, f".NAME{how}"
    if dataclasses.is_dataclass(hint):
        return "table", hint, ""
    if issubclass(hint, StrEnum):
        return "one of " + ", ".join(f"`{word}`" for word in hint), None, ""
    return _WORDS[hint], None, ""


_WORDS = {
    str: "text",
    bool: "`true` or `false`",
    int: "whole number",
    float: "number",
    date: "date",
    datetime: "date and time, in UTC",
}


def _value(kind: str, rule: Rule) -> str:
    if rule.choices:
        words = ", ".join(f"`{choice}`" for choice in rule.choices)
        return f"{kind}: {words}" if kind.startswith(("list", "table")) else f"one of {words}"
    unit = f", {rule.unit}" if rule.unit else ""
    if rule.low is not None and rule.high is not None:
        return f"{kind}{unit}, {_bound(rule.low)} to {_bound(rule.high)}"
    return f"{kind}{unit}" if rule.low is None else f"{kind}{unit}, {_bound(rule.low)} or more"


def _bound(value: float) -> str:
    return str(int(value)) if value == int(value) and abs(value) < 1e9 else f"{value:g}"


def _default(field: Any) -> str:
    if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
        return "**must be written**"
    value = field.default
    if value is dataclasses.MISSING or value is None or value in ("", ()):
        return ""
    if isinstance(value, tuple):
        return f"`[{', '.join(json.dumps(one) for one in value)}]`"
    return f"`{json.dumps(value)}`"


if __name__ == "__main__":
    main()
