"""`python -m benchlog.electronics`: foretells, a process of its own beside the window.

What it stands on loads for seconds and holds its interpreter meanwhile, and a fit goes on as long as it likes: neither
may reach the window, whose silence is a cut. A line in is a question, a line out an answer (`asked.py`), in the
order they were asked; the first line out says that it is ready. It ends when standard input does.
"""

import faulthandler
import logging
import os
import signal
import sys
from types import TracebackType

from benchlog import logs
from benchlog.electronics.answering import answer
from benchlog.electronics.asked import READY, Question

GIVES_WAY = 10
"""By so much it steps back behind what guards."""
HUNG = 30.0
"""Seconds a single answer may take; then this process ends itself, whatever it is at."""


def _write(line: str) -> bool:
    """Say a line; false where nobody hears any more."""
    try:
        os.write(1, f"{line}\n".encode())
    except OSError:
        return False
    return True


def _log_bug(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
    """Leave a bug in the log; nobody reads this process's standard error."""
    logging.getLogger("benchlog").error("bug", exc_info=(kind, error, trace))


def main() -> int:
    """Answer until the other end of standard input is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform != "win32":
        os.nice(GIVES_WAY)
    logs.start("forecasts")
    sys.excepthook = _log_bug
    going_on = _write(READY)
    while going_on and (line := sys.stdin.readline()):
        try:
            question = Question.of(line)
        except ValueError:
            continue
        faulthandler.dump_traceback_later(HUNG, exit=True)
        told = answer(question)
        faulthandler.cancel_dump_traceback_later()
        going_on = _write(told.line())
    return 0


if __name__ == "__main__":
    sys.exit(main())
