"""Commands that have no answer, and the error queue that tells whether they were taken."""

from benchlog.errors import Refused
from benchlog.instruments.error_numbers import error_class
from benchlog.instruments.profile import ErrorQueue
from benchlog.instruments.talk import Steps, Talk

MOST_ERRORS = 8
"""So many entries are read from an error queue; one that never ends tells no more."""


def order(talk: Talk, errors: ErrorQueue | None, commands: tuple[str, ...]) -> Steps:
    """Send commands; Refused with the instrument's own words where its error queue names one."""
    if errors is None:
        for command in commands:
            talk.tell(command)
        return
    if errors.clear:
        talk.tell(errors.clear)
    else:
        yield from read_out(errors, [])
    for command in commands:
        talk.tell(command)
    found: list[str] = []
    yield from read_out(errors, found)
    if found:
        problem = f"answers {found[0]} to {' '.join(commands)}"
        raise Refused(talk.place, problem, error_class(found[0]).value)


def read_out(errors: ErrorQueue, found: list[str]) -> Steps:
    """Read the queue until it is empty, into `found`."""
    for _ in range(MOST_ERRORS):
        answer = yield errors.question
        if errors.says_none(answer):
            return
        found.append(answer)
