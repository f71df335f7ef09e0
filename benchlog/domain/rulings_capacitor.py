"""Rulings on what a capacitor loses and leaks: at its frequency, at its voltage, at its minute."""

from benchlog.domain.capacitors import (
    FALLING,
    LARGE_CAN,
    RATED_SHARE,
    WRONG_WAY,
    leakage_minutes,
    same_frequency,
)
from benchlog.domain.case import Case, Finding
from benchlog.domain.measures import ESR, LEAKAGE, D
from benchlog.domain.quantity import show
from benchlog.domain.standing import Rule, Side
from benchlog.domain.verdict import Verdict

END_OF_LIFE = 2.0
"""Times the limit for a new one at which D and ESR count as worn out (Lelon RGA and EPCOS B43641: 200 %)."""


def other_frequency(case: Case) -> Finding | None:
    """A loss read at one frequency and a limit for another are two different things."""
    expected, read_at = case.asked.expectation, case.asked.frequency
    if expected is None or expected.frequency is None or read_at is None or case.value is None:
        return None
    if same_frequency(read_at, expected.frequency):
        return None
    here, there = show(read_at, "Hz"), show(expected.frequency, "Hz")
    return Verdict.UNDECIDED, f"read at {here}, and the limit is for {there}: set the meter to that"


def esr_on_board(case: Case) -> Finding | None:
    """Capacitors in parallel lower an ESR: a good figure on the board may be another one's."""
    if case.asked.measure != ESR or not case.asked.in_circuit or case.asked.no_path_stated:
        return None
    if case.side is not Side.INSIDE:
        return None
    return Verdict.UNPROVEN, "good on the board, where one in parallel would read so too: lift a leg"


def worn(case: Case) -> Finding | None:
    """Past the limit of a new one and not past its end of life: kept."""
    expected, value = case.asked.expectation, case.value
    if (
        case.asked.measure not in (D, ESR)
        or case.asked.rule is not Rule.BENCH
        or not expected
        or value is None
    ):
        return None
    if case.side is not Side.ABOVE or value > END_OF_LIFE * case.high:
        return None
    twice, limit = case.show(END_OF_LIFE * case.high), case.show(case.high)
    return (
        Verdict.DRIFTED,
        f"{case.show(value)} is past {limit}, a new one's limit, but not past twice that, {twice}: it can stay",
    )


def leaking(case: Case) -> Finding | None:
    """A leakage means something off the board, at rated voltage, after its minutes, and once it stands."""
    if case.asked.measure != LEAKAGE or case.value is None or case.standing is None:
        return None
    if case.asked.in_circuit:
        return Verdict.UNPROVEN, "on the board everything beside it leaks along: lift a leg"
    if case.side is Side.INSIDE:
        return _below_rated(case)
    if case.side is Side.BELOW:
        return Verdict.UNDECIDED, "a leakage below nothing: see how the meter's leads lie"
    return _above(case)


def _below_rated(case: Case) -> Finding | None:
    """Little enough, but at less than its voltage, or at one that nobody said (rule 30: at rated voltage)."""
    applied, rated = case.asked.applied, case.asked.rated
    if rated is None:
        return None
    if applied is None:
        text = (
            f"little enough, but at how many of its {show(rated, 'V')} was not said: say the volts put on it"
        )
        return Verdict.UNPROVEN, text
    if applied >= RATED_SHARE * rated:
        return None
    at = f"at {show(applied, 'V')} of its {show(rated, 'V')}"
    return (
        Verdict.UNPROVEN,
        f"{at} it proves nothing for the rest: go up to the rated voltage, through a resistor",
    )


def _above(case: Case) -> Finding:
    asked, value = case.asked, case.value or 0.0
    minutes = asked.minutes or 0.0
    read, limit = case.show(value), case.show(case.high)
    # Without a rated voltage nobody knows which of the two times holds: the longer one is no injustice.
    due = leakage_minutes(asked.rated if asked.rated is not None else float("inf"))
    if minutes < due:
        return Verdict.NOT_YET, f"{read} after {minutes:g} min: {limit} is for {due:g} min"
    if asked.earlier is None or asked.earlier[1] >= minutes:
        return Verdict.NOT_YET, f"{read} is above {limit}: read it again in a minute, it may still be falling"
    before, then = asked.earlier
    rate = (before - value) / before / (minutes - then) if before > 0 else 0.0
    if rate > FALLING:
        return (
            Verdict.NOT_YET,
            f"{read} is above {limit}, and still falls by {rate * 100:.0f} % a minute: wait",
        )
    if rate < -FALLING:
        return Verdict.HIGH, f"{read} is above {limit}, and it rises: take the voltage off"
    if value > WRONG_WAY * case.high:
        return (
            Verdict.HIGH,
            f"{read} is far above {limit}, and does not fall: see that it is the right way round",
        )
    return Verdict.HIGH, f"{read} is above {limit} after {minutes:g} min, and no longer falls"


def notes(case: Case, verdict: Verdict) -> list[str]:
    """What is worth saying beside a verdict on a capacitor."""
    asked = case.asked
    said = []
    if asked.measure == LEAKAGE and verdict in (Verdict.WITHIN, Verdict.HIGH):
        farads = asked.read("")
        if isinstance(farads, float) and farads >= LARGE_CAN:
            said.append("For a large can the maker's sheet wins.")
    if asked.measure in (D, ESR) and verdict is Verdict.WITHIN:
        said.append("D and ESR are both worth a look: one may be bad alone.")
    if case.taken_for_series:
        said.append(f"The meter's parallel figure, taken for {case.show(case.value or 0.0)} in series.")
    return said
