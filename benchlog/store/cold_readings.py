"""What was read of a unit in its visit that may tell of its cold checks."""

import math
from pathlib import Path

from benchlog.domain.cold_checks import RULES, ColdReading
from benchlog.domain.reading import Outcome
from benchlog.store import query_unit

_UNITS = frozenset(rule.unit for rule in RULES.values())


def taken_in(library: Path, visit: str) -> tuple[ColdReading, ...]:
    """The readings of a visit in their order, those that were not taken back; none where there is no visit.

    Beyond an ohmmeter's range counts as infinity; what had not settled, or came to no value, is in doubt.
    """
    if not visit:
        return ()
    found = []
    for kept in query_unit.visit_results(library, visit):
        one = kept.reading
        if kept.withdrawn or one.unit not in _UNITS:
            continue
        if one.outcome is Outcome.OVERLOAD and one.unit == "ohm":
            value = math.inf
        else:
            value = one.value if one.outcome is Outcome.OK and one.value is not None else math.nan
        doubtful = math.isnan(value) or not one.settled
        found.append(ColdReading(one.designator, value, one.unit, one.taken, doubtful))
    return tuple(found)
