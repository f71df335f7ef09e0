"""The last exit after a bug in any thread: off and let go of, told in the log, and an end."""

import logging
import os
import threading
from collections.abc import Callable
from types import TracebackType

log = logging.getLogger(__name__)


class Failing:
    """Ends the recorder; `abandon` first lets go of whatever may be held on, in bounded time."""

    def __init__(self, abandon: Callable[[], None]) -> None:
        self._abandon = abandon
        self._telling = threading.Lock()

    def fail(self, thrown: threading.ExceptHookArgs) -> None:
        """A bug in one of our threads: cut, say so, and end at once.

        The alarm then sounds, a pumped relay drops, and the client cuts what is left: better than a
        recorder that goes on with a thread missing.
        """
        try:
            self._abandon()
        finally:
            # One bug may end many threads at once; the first one's tale is told whole.
            self._telling.acquire(timeout=1.0)
            # Whatever else is broken: nobody may be left waiting for a recorder that lacks a thread.
            try:
                thread = thrown.thread.name if thrown.thread is not None else "?"
                found = (thrown.exc_type, thrown.exc_value or thrown.exc_type(), thrown.exc_traceback)
                log.critical("a bug in thread %s ends the recorder", thread, exc_info=found)
            finally:
                os._exit(1)

    def fail_here(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        """A bug in the main thread, which is the watch."""
        self.fail(threading.ExceptHookArgs((kind, error, trace, threading.current_thread())))
