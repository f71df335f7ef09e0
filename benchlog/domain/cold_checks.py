"""What must be known of a cold unit before it may go live: asked, or taken from what was read in this visit.

The limits are bench habit (common practice, no source) and say what fails, never that anything is safe.
Pure: it is told what was read and what a person said, and decides what is still lacking.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchlog.domain.quantity import show
from benchlog.domain.run_kind import RunKind
from benchlog.errors import BadInput, Fault


class ColdCheck(StrEnum):
    """The checks, in the order in which they are made: discharged first, since hands go in after it."""

    DISCHARGED = "discharged"
    RAILS = "rails"
    INSULATORS = "insulators"
    EARTH = "earth"
    INSULATION = "insulation"
    SELECTOR = "selector"
    FUSES = "fuses"
    PRESETS = "presets"
    INPUTS = "inputs"
    SPEAKERS = "speakers"


NEVER_OVERRIDDEN = (ColdCheck.EARTH, ColdCheck.INSULATION)
"""What no key overrides once it has failed: whoever touches the chassis next hangs on it."""

_WHOLE = tuple(ColdCheck)
_SET_ALREADY = (
    ColdCheck.EARTH,
    ColdCheck.INSULATION,
    ColdCheck.SELECTOR,
    ColdCheck.FUSES,
    ColdCheck.INPUTS,
    ColdCheck.SPEAKERS,
)
USUAL: Mapping[RunKind, tuple[ColdCheck, ...]] = {
    RunKind.POWER_UP: _WHOLE,
    RunKind.BOARD: (
        ColdCheck.DISCHARGED,
        ColdCheck.RAILS,
        ColdCheck.INSULATORS,
        ColdCheck.PRESETS,
        ColdCheck.INPUTS,
    ),
    # The presets stand where they were set by now.
    RunKind.ADJUST: _SET_ALREADY,
    RunKind.WARM_UP: _SET_ALREADY,
    RunKind.SOAK: _SET_ALREADY,
    # Nothing is switched on, or nothing but the capacitor alone.
    RunKind.DISCHARGE: (),
    RunKind.REFORM: (),
}
"""What a plan of each kind demands where it says nothing itself."""

ASKS: Mapping[ColdCheck, str] = {
    ColdCheck.DISCHARGED: "Is every reservoir under 1 V, measured across its own terminals?",
    ColdCheck.RAILS: "Is no rail shorted to ground, in ohms?",
    ColdCheck.INSULATORS: "Is every insulator whole: collector to heat sink open?",
    ColdCheck.EARTH: "Is protective earth continuous, from the plug's pin to bare chassis?",
    ColdCheck.INSULATION: "Is the primary, switch on, insulated from the chassis?",
    ColdCheck.SELECTOR: "Does the mains selector stand at the mains of this bench?",
    ColdCheck.FUSES: "Are all fuses of the printed value and kind?",
    ColdCheck.PRESETS: "Do the presets stand at minimum idle?",
    ColdCheck.INPUTS: "Are the inputs shorted, or the volume at zero?",
    ColdCheck.SPEAKERS: "Are the speakers off?",
}
"""The question whose yes is the check met."""

SHORT: Mapping[ColdCheck, str] = {
    ColdCheck.DISCHARGED: "reservoirs discharged",
    ColdCheck.RAILS: "no rail shorted to ground",
    ColdCheck.INSULATORS: "insulators whole",
    ColdCheck.EARTH: "protective earth continuous",
    ColdCheck.INSULATION: "primary insulated from chassis",
    ColdCheck.SELECTOR: "mains selector",
    ColdCheck.FUSES: "fuses as printed",
    ColdCheck.PRESETS: "presets at minimum",
    ColdCheck.INPUTS: "inputs shorted",
    ColdCheck.SPEAKERS: "speakers off",
}
"""A check in a few words, for lists and for what is missing."""


@dataclass(frozen=True, slots=True)
class ColdRule:
    """Which readings tell of a check: by how the designator begins, in which unit, and between which bounds.

    `settles`: one good reading is all of it; else there may be more of the kind, and a person says that it was all.
    """

    begins: tuple[str, ...]
    unit: str
    least: float | None = None
    most: float | None = None
    settles: bool = False

    def holds(self, value: float) -> bool:
        """Whether a value lies within; beyond the range of an ohmmeter is infinity."""
        size = abs(value)
        return (self.least is None or size >= self.least) and (self.most is None or size <= self.most)


RULES: Mapping[ColdCheck, ColdRule] = {
    ColdCheck.DISCHARGED: ColdRule(("reservoir",), "V", most=1.0),
    ColdCheck.RAILS: ColdRule(("rail to ground", "rail to common"), "ohm", least=100.0),
    ColdCheck.INSULATORS: ColdRule(("insulator",), "ohm", least=100e3),
    ColdCheck.EARTH: ColdRule(("earth", "protective earth", "pe "), "ohm", most=0.5, settles=True),
    ColdCheck.INSULATION: ColdRule(("insulation", "primary to chassis"), "ohm", least=1e6, settles=True),
}
"""The checks that a reading of the parts can tell of."""


@dataclass(frozen=True, slots=True)
class ColdReading:
    """What was read in this visit: designator, value in its unit (infinity: an ohmmeter's OL), unit, and UTC.

    `doubtful` where it had not settled, or came to no value: it makes no check good, and takes no failure back.
    """

    designator: str
    value: float
    unit: str
    utc: str = ""
    doubtful: bool = False

    @property
    def shown(self) -> str:
        """For a person: `earth 0.12 ohm`."""
        said = "OL" if self.value == float("inf") else show(self.value, self.unit)
        return f"{self.designator} {said}"


@dataclass(frozen=True, slots=True)
class ColdAnswer:
    """How a check stands.

    Attributes:
        holds: whether it was found so; None where nobody looked.
        by: `read`, `told`, or empty where nobody looked.
        text: what was read or said.
        overridden: whether the operator goes on all the same.
    """

    check: ColdCheck
    holds: bool | None = None
    by: str = ""
    text: str = ""
    overridden: bool = False

    @property
    def passes(self) -> bool:
        """Whether the unit may go live as far as this goes."""
        failed_for_good = self.holds is False and self.check in NEVER_OVERRIDDEN
        return self.holds is True or (self.overridden and not failed_for_good)

    @property
    def in_words(self) -> str:
        """For the account of a run: `presets at minimum: told`."""
        found = self.text or {"told": "told", "read": "read"}.get(self.by, "not looked at")
        if self.holds is False:
            found = f"FAILED, {found}"
        return f"{SHORT[self.check]}: {found}{', overridden' if self.overridden else ''}"


def told(check: ColdCheck, *, yes: bool) -> ColdAnswer:
    """A person's word."""
    return ColdAnswer(check, yes, "told", "told" if yes else "told that it is not so")


def read_in(check: ColdCheck, readings: Sequence[ColdReading]) -> tuple[ColdReading, ...]:
    """What of these tells of that check: the newest of each designator, as they came.

    One in doubt takes the place of what was found good before, and not of what was found bad.
    """
    rule = RULES.get(check)
    if rule is None:
        return ()
    newest: dict[str, ColdReading] = {}
    for one in readings:
        if one.unit != rule.unit or not f"{one.designator.casefold()} ".startswith(rule.begins):
            continue
        before = newest.get(one.designator)
        stays_bad = before is not None and not before.doubtful and not rule.holds(before.value)
        if not (one.doubtful and stays_bad):
            newest[one.designator] = one
    return tuple(newest.values())


def from_readings(check: ColdCheck, readings: Sequence[ColdReading]) -> ColdAnswer | None:
    """What this visit's readings say of a check; None where they leave it to a person."""
    found = read_in(check, readings)
    if not found:
        return None
    rule = RULES[check]
    bad = [one for one in found if not one.doubtful and not rule.holds(one.value)]
    if bad:
        return ColdAnswer(check, False, "read", ", ".join(one.shown for one in bad))
    if not rule.settles or any(one.doubtful for one in found):
        return None
    return ColdAnswer(check, True, "read", ", ".join(one.shown for one in found))


def standing(
    demanded: Iterable[ColdCheck], readings: Sequence[ColdReading], said: Mapping[ColdCheck, ColdAnswer]
) -> tuple[ColdAnswer, ...]:
    """How each check that is demanded stands: a reading goes before a word, which cannot make it good.

    An override stands with whatever was found.
    """
    stands = []
    for check in demanded:
        word = said.get(check)
        found = from_readings(check, readings) or word or ColdAnswer(check)
        over = word is not None and word.overridden
        stands.append(ColdAnswer(check, found.holds, found.by, found.text, over))
    return tuple(stands)


def overridden(answer: ColdAnswer) -> ColdAnswer:
    """The same with the operator going on all the same; BadInput where no key can."""
    if answer.holds is False and answer.check in NEVER_OVERRIDDEN:
        raise BadInput(SHORT[answer.check], f"failed ({answer.text})", _MEND)
    return ColdAnswer(answer.check, answer.holds, answer.by, answer.text, overridden=True)


_MEND = "find the fault, then measure it anew: no key overrides this one"


def lacking(demanded: Iterable[ColdCheck], answers: Iterable[ColdAnswer]) -> tuple[Fault, ...]:
    """What keeps the unit from going live, named one by one; empty where nothing does."""
    given = {answer.check: answer for answer in answers}
    faults = []
    for check in demanded:
        answer = given.get(check, ColdAnswer(check))
        if answer.passes:
            continue
        if answer.holds is None:
            faults.append(Fault(SHORT[check], "was not checked", "check it, or override it with a key"))
        elif check in NEVER_OVERRIDDEN:
            faults.append(Fault(SHORT[check], f"failed ({answer.text})", _MEND))
        else:
            fix = "mend it and check it again, or override it with a key"
            faults.append(Fault(SHORT[check], f"failed ({answer.text})", fix))
    return tuple(faults)
