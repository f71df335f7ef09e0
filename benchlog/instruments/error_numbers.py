"""What the number in an answer to SYSTem:ERRor? says by its hundreds (SCPI-99 volume 2, 21.8)."""

import re
from enum import Enum

_NUMBER = re.compile(r"\s*([+-]?\d{1,6})\s*(?:,|$)", re.ASCII)


class ErrorClass(Enum):
    """Classes of errors; each value is what a person can do about one."""

    COMMAND = "it does not know that command: check its profile"
    EXECUTION = "it knows the command and cannot carry it out: check the value, and what else is set"
    DEVICE = "look at its own display, and into its manual under that number"
    QUERY = "question and answer are out of step: check its profile, or switch it off and on"
    OTHER = "check its profile"


def error_class(answer: str) -> ErrorClass:
    """The class of an error queue's answer such as `-113,"Undefined header"`; OTHER where it has no number."""
    found = _NUMBER.match(answer)
    number = int(found[1]) if found else 0
    if number > 0:
        return ErrorClass.DEVICE
    return _HUNDREDS.get(-number // 100, ErrorClass.OTHER)


_HUNDREDS = {
    1: ErrorClass.COMMAND,
    2: ErrorClass.EXECUTION,
    3: ErrorClass.DEVICE,
    4: ErrorClass.QUERY,
}
