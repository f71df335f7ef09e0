"""What a measure of a part should read where nobody said so: by common practice, published limits or arithmetic.

What a person wrote for the very part always goes before.
"""

from benchlog.domain.capacitors import AT_LINE, d_limit, esr_limit, leakage_limit
from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.marking import decode
from benchlog.domain.measures import ESR, LEAKAGE, WIPER, D, Measure
from benchlog.domain.quantity import show
from benchlog.errors import BadInput

DIGITS = 3
"""A limit that is worked out is no sharper than this many digits."""

ZENER_TOLERANCE = (-0.05, 0.05)
"""What a zener without further marking is made to (common practice, no source)."""


def usual_limits(
    kind: Kind, measure: Measure, own: Expectation | None, rated: float | None, frequency: float | None = None
) -> Expectation | None:
    """What a measure should read; None where nothing says.

    Args:
        kind: of the part.
        measure: of that kind.
        own: what the part's own value should read; None where nobody knows.
        rated: volts it is made for; None where they are not known.
        frequency: at which a loss was or will be read, Hz; None: as its limits are published.
    """
    if measure.limits:
        return measure.expected(kind, measure.limits, Origin.PRACTICE)
    if measure.word == WIPER and own is not None:
        return _up_to(own.high, measure.unit)
    farads = own.nominal if own is not None and own.unit == "F" else None
    if kind is not Kind.ELECTROLYTIC or not farads:
        return None
    return _of_electrolytic(measure.word, farads, rated, frequency or AT_LINE)


def _of_electrolytic(word: str, farads: float, rated: float | None, frequency: float) -> Expectation | None:
    if word == D and rated is not None:
        limit = d_limit(farads, rated)
        # At another frequency this is what it cannot be held against, and that is said.
        return _up_to(limit, "", AT_LINE) if limit is not None else None
    if word == ESR:
        limit = esr_limit(farads, rated, frequency)
        if limit is not None:
            return _up_to(limit, "ohm", frequency)
        limit = esr_limit(farads, rated, AT_LINE)
        return _up_to(limit, "ohm", AT_LINE) if limit is not None else None
    if word == LEAKAGE and rated is not None:
        return _up_to(leakage_limit(farads, rated), "A")
    return None


def zener_volts(marking: str) -> Expectation | None:
    """What a zener breaks down at, from its marking; None where that tells no volts."""
    try:
        found = decode(marking, Kind.ZENER)
    except BadInput:
        return None
    if not found.value or found.unit != "V":
        return None
    return Expectation.around(found.value, "V", found.tolerance or ZENER_TOLERANCE, Origin.MARKING)


def rated_volts(*texts: str) -> float | None:
    """The volts a capacitor is made for, from its marking or from what it should read; None where neither tells."""
    for text in texts:
        try:
            found = decode(text, Kind.CAPACITOR) if text else None
        except BadInput:
            continue
        volts = [one.value for one in found.ratings if one.unit == "V"] if found is not None else []
        if volts:
            return volts[0]
    return None


def _up_to(limit: float, unit: str, frequency: float | None = None) -> Expectation:
    at = f" at {show(frequency, 'Hz')}" if frequency is not None else ""
    limit = float(f"{limit:.{DIGITS}g}")
    text = f"0..{show(limit, unit, digits=DIGITS)}{at}"
    return Expectation(None, 0.0, limit, unit, Origin.COMPUTED, text, frequency=frequency)
