"""`benchlog decode`: what a marking or a typed value means."""

import argparse
import json
from typing import Any

from benchlog.domain.colourbands import BANDS, words
from benchlog.domain.kind import Kind
from benchlog.domain.marking import Decoded, Meaning, decode
from benchlog.domain.quantity import show, symbol
from benchlog.domain.tolerance import Tolerance, show_tolerance
from benchlog.errors import BadInput, Fault


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument(
        "text", nargs="+", metavar="TEXT", help='4k7, "0.1u 625V", 104, yellow violet red gold'
    )
    parser.add_argument(
        "--kind", choices=[kind.value for kind in Kind], help="what kind of part it is printed on"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a line, values in base SI units")


def run(args: argparse.Namespace) -> int:
    """Print what each text means; `BadInput` with all that mean nothing, after the others."""
    kind = Kind(args.kind) if args.kind else None
    faults: list[Fault] = []
    for text in _texts(args.text):
        try:
            found = decode(text, kind)
        except BadInput as error:
            faults += error.faults
            continue
        print(
            json.dumps(as_json(found), ensure_ascii=False, allow_nan=False) if args.json else in_words(found)
        )
    if faults:
        raise BadInput.of(faults)
    return 0


def as_json(found: Decoded) -> dict[str, Any]:
    """A decoded text as one JSON object: base SI units, tolerances as fractions."""
    made: dict[str, Any] = {
        "text": found.text,
        "kind": found.kind,
        "value": found.value,
        "unit": found.unit or None,
        "tolerance": _pair(found.tolerance),
    }
    if found.choices:
        made["choices"] = [_choice(one) for one in found.choices]
    if found.overload:
        made["overload"] = found.overload.value
    if found.ratings:
        made["ratings"] = [{"value": one.value, "unit": one.unit} for one in found.ratings]
    if found.tempco is not None:
        made["tempco_ppm"] = found.tempco
    return made


def in_words(found: Decoded) -> str:
    """A decoded text as one line for a person."""
    if found.choices:
        return f"{found.text}: {', or '.join(map(_named, found.choices))}; say which"
    if found.overload:
        return f"{found.text}: overload"
    said = [show(found.value or 0.0, found.unit, digits=9)]
    said[0] += f" {show_tolerance(found.tolerance)}" if found.tolerance else ""
    said += [f"{one.value:g} {symbol(one.unit)}" for one in found.ratings]
    said += [f"{found.tempco} ppm/K"] if found.tempco is not None else []
    said += [found.kind.replace("_", " ")] if found.kind else []
    return f"{found.text}: {', '.join(said)}"


def _texts(given: list[str]) -> list[str]:
    """Each argument by itself, but colours typed without quotes as the bands of one part."""
    bands = len(given) > 1 and all(len(words(one)) == 1 and words(one)[0] in BANDS for one in given)
    return [" ".join(given)] if bands else given


def _choice(one: Meaning) -> dict[str, Any]:
    made = {"kind": one.kind, "value": one.value, "unit": one.unit or None, "tolerance": _pair(one.tolerance)}
    return {**made, "how": one.how}


def _pair(tolerance: Tolerance | None) -> list[float] | None:
    return list(tolerance) if tolerance else None


def _named(one: Meaning) -> str:
    return f"{one.kind.replace('_', ' ')} {one}" if one.kind else str(one)
