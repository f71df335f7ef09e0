"""The cold checks of a plan at a terminal: asked one by one before the off-switch is proven."""

from collections.abc import Callable, Sequence
from typing import TextIO

from benchlog.domain.cold_checks import (
    ASKS,
    NEVER_OVERRIDDEN,
    SHORT,
    ColdAnswer,
    ColdReading,
    lacking,
    overridden,
    read_in,
    standing,
    told,
)
from benchlog.domain.plan import Plan
from benchlog.errors import BadInput

Tell = Callable[[str], None]
UNASKED = "not asked, as --yes was given"
_YES, _NO, _WITHOUT = ("", "y", "yes"), ("n", "no"), ("x",)


def ask_cold(
    plan: Plan, readings: Sequence[ColdReading], *, by_itself: bool, lines: TextIO, tell: Tell
) -> list[ColdAnswer]:
    """How each check stands that the plan demands; BadInput names what is missing where it may not go live.

    `readings` are those of the visit. A run that goes up `by_itself` asks nobody: what no reading tells of is
    overridden, and kept as such, never as done.
    """
    answers = [
        _ask(found, readings, by_itself=by_itself, lines=lines, tell=tell)
        for found in standing(plan.cold_checks, readings, {})
    ]
    if faults := lacking(plan.cold_checks, answers):
        raise BadInput.of(faults)
    return answers


def ask_stays(plan: Plan, *, by_itself: bool, alone: bool, lines: TextIO, tell: Tell) -> bool:
    """Whether nobody stays with it, asked where the run goes on for long; one that goes up by itself is alone."""
    if alone or not plan.run_kind.goes_on or by_itself:
        return alone or (by_itself and plan.run_kind.goes_on)
    tell("> Do you stay with it?  [Enter: yes, n: it is left alone]")
    line = lines.readline()
    return not line or line.strip().lower() in _NO


def _ask(
    found: ColdAnswer, readings: Sequence[ColdReading], *, by_itself: bool, lines: TextIO, tell: Tell
) -> ColdAnswer:
    """One check; what was read needs no word, and what may not be overridden takes none."""
    if found.passes:
        tell(f"   {found.in_words}")
        return found
    if found.holds is False and found.check in NEVER_OVERRIDDEN:
        return found
    if by_itself:
        tell(f"   {SHORT[found.check]}: {UNASKED}")
        return ColdAnswer(found.check, found.holds, found.by, found.text or UNASKED, overridden=True)
    read = ", ".join(one.shown for one in read_in(found.check, readings))
    failed = found.holds is False
    asks = f"{SHORT[found.check].capitalize()}: failed, {found.text}." if failed else ASKS[found.check]
    while True:
        keys = "x: go without, n: stop here" if failed else "Enter: yes, n: no, x: go without"
        tell(f"> {asks}{f' Read: {read}.' if read and not failed else ''}  [{keys}]")
        line = lines.readline()
        word = line.strip().lower()
        if word in _WITHOUT:
            return overridden(found)
        if not line or (failed and word in _NO):
            return found
        if word in _NO:
            return told(found.check, yes=False)
        if word in _YES and not failed:
            return told(found.check, yes=True)
