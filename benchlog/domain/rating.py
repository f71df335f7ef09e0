"""What a meter's input is rated for, as printed beside it: `CAT II 300 V`, `CAT III 600 V / CAT IV 300 V`."""

import re

MAINS_CATEGORY, MAINS_VOLTS = 2, 300
"""The least that belongs on the mains side: measurement category II of IEC 61010, 300 V."""
FOR_MAINS = f"CAT {'I' * MAINS_CATEGORY} {MAINS_VOLTS} V or better, fused"

_CATEGORIES = {"I": 1, "II": 2, "III": 3, "IV": 4}
_RATING = re.compile(r"CAT\.?\s{0,4}(IV|I{1,3})[\s,:/]{0,4}(\d{1,5})\s{0,4}(k?)V", re.IGNORECASE | re.ASCII)


def fit_for_mains(text: str) -> bool | None:
    """Whether a rating is enough for the mains side; None where it says nothing that can be read."""
    found = [
        (_CATEGORIES[category.upper()], int(volts) * (1000 if kilo else 1))
        for category, volts, kilo in _RATING.findall(text)
    ]
    if not found:
        return None
    return any(category >= MAINS_CATEGORY and volts >= MAINS_VOLTS for category, volts in found)
