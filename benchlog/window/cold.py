"""The cold checks of a plan as the window has them: what was read and said, and which is asked now. No Qt."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from benchlog.domain.cold_checks import (
    ASKS,
    NEVER_OVERRIDDEN,
    SHORT,
    ColdAnswer,
    ColdCheck,
    ColdReading,
    lacking,
    overridden,
    read_in,
    standing,
    told,
)
from benchlog.domain.plan import Plan
from benchlog.window.lines import Line
from benchlog.window.shapes import Shape


@dataclass(slots=True)
class Cold:
    """What is known of the cold unit; `alone` is whether it will be left alone, None where that was not asked."""

    plan: Plan
    readings: tuple[ColdReading, ...] = ()
    said: dict[ColdCheck, ColdAnswer] = field(default_factory=dict)
    alone: bool | None = None

    @property
    def answers(self) -> tuple[ColdAnswer, ...]:
        """How each check that the plan demands stands."""
        return standing(self.plan.cold_checks, self.readings, self.said)

    @property
    def asked(self) -> ColdAnswer | None:
        """The check to be made now: first what nobody looked at, then what failed; None where none is left."""
        open_ = [answer for answer in self.answers if not answer.passes]
        unseen = [answer for answer in open_ if answer.holds is None]
        return next(iter((*unseen, *open_)), None)

    @property
    def asks_who_stays(self) -> bool:
        """Whether it is still to be said that somebody stays."""
        return self.asked is None and self.alone is None and self.plan.run_kind.goes_on

    @property
    def done(self) -> bool:
        """Whether nothing is left to ask before the off-switch is proven."""
        return self.asked is None and not self.asks_who_stays

    @property
    def missing(self) -> tuple[str, ...]:
        """What keeps it from going live, in words."""
        return tuple(str(fault) for fault in lacking(self.plan.cold_checks, self.answers))

    # --- what a person does ------------------------------------------------------------------------

    def say(self, *, yes: bool) -> None:
        """Answer what is asked now."""
        answer = self.asked
        if answer is not None:
            self.said[answer.check] = told(answer.check, yes=yes)
        elif self.asks_who_stays:
            self.alone = not yes

    @property
    def may_override(self) -> bool:
        """Whether a key can go on without what is asked now."""
        asked = self.asked
        return asked is not None and not (asked.holds is False and asked.check in NEVER_OVERRIDDEN)

    def override(self) -> None:
        """Go on without what is asked now; BadInput where no key can."""
        answer = self.asked
        if answer is not None:
            self.said[answer.check] = overridden(answer)

    def ask_again(self, number: int) -> None:
        """What was said of the check with that number, from 1, is taken back."""
        checks = self.plan.cold_checks
        if 1 <= number <= len(checks):
            self.said.pop(checks[number - 1], None)
        elif number == len(checks) + 1:
            self.alone = None

    # --- in words ----------------------------------------------------------------------------------

    def question(self, answer: ColdAnswer) -> str:
        """What is asked of a check."""
        if answer.holds is False and answer.by == "read":
            return f"{SHORT[answer.check].capitalize()}: failed, {answer.text}."
        return ASKS[answer.check]

    def beside(self, answer: ColdAnswer) -> str:
        """What is known beside the question."""
        checks = self.plan.cold_checks
        place = f"Cold check {checks.index(answer.check) + 1} of {len(checks)}."
        if answer.holds is False:
            again = "measure it again on the Parts page" if answer.by == "read" else "mend it, then say so"
            return f"{place} It failed: {again}."
        if found := read_in(answer.check, self.readings):
            return f"{place} Read: {', '.join(one.shown for one in found)}. Were these all?"
        return place

    def lines(self) -> Iterator[Line]:
        """Each check with how it stands."""
        asked = self.asked
        for number, answer in enumerate(self.answers, start=1):
            here = asked is not None and asked.check is answer.check
            yield Line(f"{number}  {SHORT[answer.check]}", *_stands(answer), bold=here)
        if self.alone is not None:
            number = len(self.plan.cold_checks) + 1
            yield Line(f"{number}  {'nobody stays' if self.alone else 'somebody stays'}", "told", Shape.GOOD)


def _stands(answer: ColdAnswer) -> tuple[str, Shape]:
    if answer.overridden and answer.holds is not True:
        return f"{answer.text or 'not checked'}, overridden", Shape.DOUBT
    if answer.holds is None:
        return "to do", Shape.TO_DO
    return answer.text, Shape.GOOD if answer.holds else Shape.HIGH
