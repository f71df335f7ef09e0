"""What was read of a unit in its visit that may tell of its cold checks."""

from pathlib import Path

from benchlog.domain.cold_checks import RULES, ColdReading
from benchlog.domain.reading import Outcome
from benchlog.store import query_unit

_UNITS = frozenset(rule.unit for rule in RULES.values())


def taken_in(library: Path, visit: str) -> tuple[ColdReading, ...]:
    """The readings of a visit in their order, those that were not taken back; none where there is no visit.

    Beyond an ohmmeter's range counts as infinity.
    """
    if not visit:
        return ()
    found = []
    for kept in query_unit.visit_results(library, visit):
        one = kept.reading
        if kept.withdrawn or one.unit not in _UNITS:
            continue
        if one.outcome is Outcome.OVERLOAD and one.unit == "ohm":
            found.append(ColdReading(one.designator, float("inf"), one.unit, one.taken))
        elif one.outcome is Outcome.OK and one.value is not None:
            found.append(ColdReading(one.designator, one.value, one.unit, one.taken))
    return tuple(found)
