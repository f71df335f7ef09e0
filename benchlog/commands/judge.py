"""`benchlog judge`: what a reading proves about what it should read."""

import argparse
import json
import math
from typing import Any

from benchlog.domain.accuracy import MeterError
from benchlog.domain.expectation import Expectation
from benchlog.domain.judging import judge
from benchlog.domain.kind import Kind
from benchlog.domain.lcr import PARALLEL, SERIES
from benchlog.domain.measures import Measure, all_of, measure_of
from benchlog.domain.quantity import Overload, quantity, quoted, show
from benchlog.domain.reading import Function
from benchlog.domain.standing import Rule
from benchlog.domain.typed import TypedReading, read_typed
from benchlog.domain.usual import rated_volts, usual_limits
from benchlog.domain.verdict import Judgement, Question
from benchlog.errors import BadInput


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add = parser.add_argument
    add(
        "--expect",
        metavar="T",
        help='what it should read: "4k7 5%%", "12..15 mV", "-38 V 10%%"; left out: as is usual for its kind',
    )
    add("--reading", required=True, metavar="T", help="what it reads: 4.65k, OL, -38.9V")
    add("--mirror", metavar="T", help="what the same part on the other side reads")
    add(
        "--meter-error",
        metavar="T",
        help="0.5%%+2@0.1, 0.002%%+0.0005%%@10 or 50mV, in the base unit of the reading",
    )
    add("--in-circuit", action="store_true", help="both legs are on the board")
    add("--kind", choices=[kind.value for kind in Kind], help="what kind of part it is")
    add("--rule", choices=[rule.value for rule in Rule], default=Rule.BENCH.value, help="by which limits")
    add("--function", choices=[one.value for one in Function], help="what the meter measures")
    add("--resolution", metavar="T", help="the last digit of the range in use: 0.01")
    add("--nulled", action="store_true", help="the leads were nulled within the hour")
    add("--reversed", metavar="T", help="what it reads with the leads the other way round")
    add("--dead-board", choices=["yes", "no"], help="whether the board was found without charge")
    add(
        "--no-path-below-1k",
        action="store_true",
        help="nothing below 1 kilohm lies across it, says the sheet",
    )
    add("--dissipation", type=float, metavar="D", help="D of a capacitor")
    add("--frequency", type=float, metavar="HZ", help="at which D or ESR was measured")
    add(
        "--measure",
        metavar="WORD",
        help="what was measured: be, esr, leakage; left out: the part's own value",
    )
    add(
        "--beside",
        action="append",
        default=[],
        metavar="WORD=T",
        help="what else it read: ce=OL, value=4650u",
    )
    add("--value", metavar="T", help='what its own value should read: "4700u 20%% 63V"')
    add("--rated", metavar="V", help="the volts a capacitor is made for")
    add("--applied", metavar="V", help="the volts put on it, for its leakage")
    add("--minutes", type=float, metavar="N", help="how long these were on")
    add("--earlier", metavar="T/N", help="what leaked before, and after how many minutes")
    add("--model", choices=[SERIES, PARALLEL], default="", help="of an LCR meter's figures")
    add("--open-volts", metavar="V", help="what the meter puts out on diodes with nothing at its leads")
    add("--json", action="store_true", help="one JSON object, values in base SI units")


def run(args: argparse.Namespace) -> int:
    """Print the judgement of one reading."""
    kind = Kind(args.kind) if args.kind else None
    measure = _measure(kind, args.measure)
    function = (
        Function(args.function) if args.function else measure.function if args.measure and measure else None
    )
    rated = quantity(args.rated, "V").value if args.rated else rated_volts(args.value or "")
    expectation = _expectation(args, kind, measure, function, rated)
    unit = function.unit if function else expectation.unit if expectation else measure.unit if measure else ""
    typed = {
        name: read_typed(text, expectation, unit)
        for name, text in (("reading", args.reading), ("mirror", args.mirror), ("reversed", args.reversed))
        if text is not None
    }
    reading = typed["reading"]
    judgement = judge(
        Question(
            expectation,
            reading.value,
            function=function if function is None or reading.unit in ("", function.unit) else None,
            unit=reading.unit,
            kind=kind,
            in_circuit=args.in_circuit,
            mirror=_value(typed.get("mirror")),
            meter_error=MeterError.parse(args.meter_error) if args.meter_error is not None else None,
            resolution=quantity(args.resolution).value if args.resolution is not None else None,
            rule=Rule(args.rule),
            reversed=_value(typed.get("reversed")),
            dead_board=None if args.dead_board is None else args.dead_board == "yes",
            no_path_stated=args.no_path_below_1k,
            nulled=args.nulled,
            dissipation=args.dissipation,
            frequency=args.frequency,
            measure=measure.word if measure is not None else "",
            others=tuple(_beside(kind, one) for one in args.beside),
            model=args.model,
            rated=rated,
            applied=quantity(args.applied, "V").value if args.applied else None,
            minutes=args.minutes,
            earlier=_earlier(args.earlier) if args.earlier else None,
            open_volts=quantity(args.open_volts, "V").value if args.open_volts else None,
        )
    )
    assumed = [one.assumed for one in typed.values() if one.assumed]
    if args.json:
        print(json.dumps(as_json(judgement, assumed), ensure_ascii=False, allow_nan=False))
    else:
        print("\n".join(in_words(judgement, assumed)))
    return 0


def _measure(kind: Kind | None, word: str | None) -> Measure | None:
    """What was measured; None where neither kind nor word tell."""
    if word is not None and kind is None:
        raise BadInput("--measure", "belongs to a kind of part", "say which with --kind")
    if kind is None:
        return None
    if word is not None:
        return measure_of(kind, word)
    return next((one for one in all_of(kind) if not one.word), None)


def _expectation(
    args: argparse.Namespace,
    kind: Kind | None,
    measure: Measure | None,
    function: Function | None,
    rated: float | None,
) -> Expectation | None:
    """What it should read: as was said, else as is usual for that measure of its kind."""
    if args.expect is not None:
        if kind is not None and measure is not None and args.measure:
            return measure.expected(kind, args.expect)
        return Expectation.parse(args.expect, kind, unit=function.unit if function else "")
    if kind is None or measure is None:
        raise BadInput("--expect", "is missing", "say what it should read, or what kind of part it is")
    own = measure_of(kind, "").expected(kind, args.value) if args.value else None
    return usual_limits(kind, measure, own, rated, args.frequency)


def _beside(kind: Kind | None, text: str) -> tuple[str, float | Overload]:
    """What another measure of the part read: `ce=OL`."""
    word, equals, read = text.partition("=")
    measure = _measure(kind, word.strip())
    if measure is None or not equals:
        raise BadInput(quoted(text), "is no measure with what it read", "write it as in ce=OL")
    return measure.word, read_typed(read, None, measure.unit).value


def _earlier(text: str) -> tuple[float, float]:
    """A leakage before, A, and its minute: `9m/1`."""
    read, slash, minutes = text.partition("/")
    if not slash:
        raise BadInput(quoted(text), "has no minutes", "write it as in 9m/1")
    return quantity(read, "A").value, quantity(minutes).value


def as_json(judgement: Judgement, assumed: list[str]) -> dict[str, Any]:
    """A judgement as one JSON object, in base SI units."""
    made: dict[str, Any] = {
        "verdict": judgement.verdict,
        "reason": judgement.reason,
        "low": judgement.low,
        "high": judgement.high,
        "value": judgement.value,
        "uncertainty": judgement.uncertainty,
        "probability": judgement.probability,
        "rule": judgement.rule,
        "unit": judgement.unit or None,
    }
    if judgement.notes:
        made["notes"] = list(judgement.notes)
    if assumed:
        made["assumed"] = assumed
    return made


def in_words(judgement: Judgement, assumed: list[str]) -> list[str]:
    """A judgement as lines for a person: the verdict with its rule, why, and what was assumed."""
    lines = [f"{judgement.verdict} ({judgement.rule} rule)", judgement.reason, *judgement.notes]
    if judgement.probability is not None and judgement.uncertainty is not None:
        width = show(judgement.uncertainty, judgement.unit, digits=3)
        lines.append(
            f"Uncertainty {width} (k = 2), probability of conformity {_percent(judgement.probability)}."
        )
    return lines + [f"{one[0].upper()}{one[1:]}." for one in assumed]


def _value(typed: TypedReading | None) -> float | Overload | None:
    return typed.value if typed else None


def _percent(share: float) -> str:
    """A probability in per cent, never rounded to certainty."""
    if share < 0.0001:
        return "below 0.01 %"
    return f"{math.floor(share * 10000) / 100:g} %" if share < 0.9999 else "above 99.99 %"
