"""The recorder as a window or a command sees it: started, asked, listened to, watched, outlived.

No Qt here: what the recorder publishes is handed to a callback on one thread of its own, so that
a slow callback holds up neither heartbeats nor answers, and may ask in its turn.
"""

import logging
import queue
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import msgspec

from benchlog import __version__
from benchlog.errors import WATCH, BadInput, Fault, Gone, LinkError, TimedOut
from benchlog.recorder import messages
from benchlog.recorder.channel import Channel
from benchlog.recorder.child import Child
from benchlog.recorder.errlog import ErrorLog
from benchlog.recorder.framing import complaint, decode_outgoing
from benchlog.recorder.lost import cut_without_recorder
from benchlog.recorder.messages import (
    Beat,
    Closed,
    CutState,
    Hello,
    Message,
    Notice,
    Outgoing,
    Recipe,
    Request,
)

__all__ = ["Recorder", "messages"]
"""What the window knows of the recorder: its client, and the words they speak."""

log = logging.getLogger(__name__)

BEAT_EVERY = 0.25
"""Seconds between two heartbeats."""
SILENT_ARMED, SILENT_IDLE = 1.0, 5.0
"""Seconds of silence after which a recorder counts as dead, with and without a run."""
LONGEST_TAIL = 600.0 + 120.0
"""Seconds a run may take to end: the longest tail of a plan, and time to be seen off and to close."""
_TICK = 0.05
_BACKLOG = 2000
"""Messages a slow callback may have waiting before readings are thrown away."""


class Recorder:
    """One recorder process; `start` makes it, `close` or leaving the `with` block ends it."""

    def __init__(
        self, child: Child, log: ErrorLog, on_message: Callable[[Outgoing], None], alive: Callable[[], bool]
    ) -> None:
        self._child = child
        self._log = log
        self._on_message = on_message
        self._alive = alive
        self._channel = Channel(child.reading, child.writing, decode_outgoing, peer=WATCH)
        self._asked: dict[int, queue.SimpleQueue[messages.Done | messages.Refused | None]] = {}
        self._next_id = 1
        self._lock = threading.Lock()
        self._ending = False
        self._quitting = False
        self._recipe: Recipe | None = None
        self._last_recipe: Recipe | None = None
        self._cutting = threading.Lock()
        self._plan_time = 0
        self._over = threading.Event()
        self._published: queue.SimpleQueue[Outgoing | None] = queue.SimpleQueue()
        self._told = threading.Thread(target=self._tell, name="recorder messages", daemon=True)
        self._watcher = threading.Thread(target=self._watch, name="recorder watch", daemon=True)

    @classmethod
    def start(
        cls,
        *,
        on_message: Callable[[Outgoing], None],
        player: Sequence[str] | None = None,
        alarm: bool = True,
        log_dir: Path | None = None,
        alive: Callable[[], bool] | None = None,
        command: Sequence[str] | None = None,
        greeting: float = 20.0,
    ) -> Self:
        """Start a recorder and exchange hellos; raises a LinkError that says why it did not come up.

        Args:
            on_message: gets all it publishes and the answers to `post`, on a thread of its own.
            player: a command to stand in the place of the platform's sound player.
            alarm: whether it starts its alarm process.
            log_dir: where its standard error and its log go; a temporary file where left out.
            alive: heartbeats are sent only while it says so; it must not block.
            command: what to start in place of `python -m benchlog.recorder`.
            greeting: seconds it has for its hello.
        """
        argv = list(command) if command is not None else [sys.executable, "-m", "benchlog.recorder"]
        argv += [] if alarm else ["--no-alarm"]
        argv += [] if log_dir is None else ["--log-dir", str(log_dir)]
        argv += [] if player is None else ["--", *player]
        log = ErrorLog(log_dir)
        try:
            child = Child(argv, log.file)
        except LinkError:
            log.close()
            raise
        recorder = cls(child, log, on_message, alive or _always)
        recorder._greet(greeting)
        return recorder

    @property
    def pid(self) -> int:
        """Its process number."""
        return self._child.pid

    @property
    def alive(self) -> bool:
        """Whether it runs and is not given up."""
        return not self._ending

    @property
    def armed(self) -> bool:
        """Whether a run is on: a recipe came, and the session is not closed since."""
        return self._recipe is not None

    def request(self, message: Request, timeout: float = 10.0) -> dict[str, Any]:
        """Ask and wait for the answer; gives its data. The `id` of `message` is replaced.

        Raises BadInput with what the recorder refuses, TimedOut, or Gone where it is dead.
        """
        answer: queue.SimpleQueue[messages.Done | messages.Refused | None] = queue.SimpleQueue()
        number = self._send(message, answer)
        try:
            got = answer.get(timeout=timeout)
        except queue.Empty:
            kind = type(message).__struct_config__.tag
            raise TimedOut(
                WATCH, f"did not answer within {timeout:g} s ({str(kind).replace('_', ' ')})"
            ) from None
        finally:
            with self._lock:
                self._asked.pop(number, None)
        if got is None:
            raise _gone()
        if isinstance(got, messages.Refused):
            raise BadInput.of(Fault(*fault) for fault in got.faults)
        return got.data

    def post(self, message: Request) -> int:
        """Ask without waiting; gives the id its answer will carry to `on_message`. Raises Gone."""
        return self._send(message, None)

    def cut_again(self) -> tuple[str, ...]:
        """Send the network cut of a recorder that died in a run once more, without waiting; where it goes.

        Nothing where no supply can be reached over the network. A cut that is still under way repeats its
        off line by itself. What comes of it is told as before, on a thread of this cut.
        """
        recipe = self._last_recipe
        if recipe is None or not recipe.lines:
            return ()
        if self._cutting.acquire(blocking=False):
            threading.Thread(target=self._cut, args=(recipe, self._on_message), name="cut again").start()
        return tuple(f"{host}:{port}" for host, port, *_ in recipe.lines)

    def close(self, timeout: float = 30.0) -> None:
        """Have it cut, close and end; killed if it has not ended `timeout` seconds after its run.

        A recorder that is heard finishes the tail of its run first, for as long as a plan may ask for; of one that
        is dead the cut that is made without it is waited for.
        """
        with self._lock:
            first, self._quitting = not self._quitting, True
        if first and self.alive:
            self._channel.send(messages.Quit(id=self._new_id()))
        begun = heard = time.monotonic()
        while not self._over.wait(_TICK):
            now = time.monotonic()
            # One that falls silent is ended by the watcher.
            if self.armed:
                heard = now
            if now - heard > timeout or now - begun > LONGEST_TAIL:
                self._bury(f"did not end within {min(timeout, LONGEST_TAIL):g} s")
                break
        for thread in (self._told, self._watcher):
            if thread is not threading.current_thread() and thread.ident is not None:
                thread.join(5.0)
        if self._cutting.acquire(timeout=timeout):
            self._cutting.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # --- asking -----------------------------------------------------------------------------------

    def _greet(self, patience: float) -> None:
        try:
            self._channel.greet(__version__, patience)
        except LinkError as error:
            self._child.kill()
            self._channel.close(0.0)
            last = self._log.last_line()
            self._log.close()
            problem = f"{error.problem} ({last})" if last else error.problem
            raise type(error)(error.place, problem, error.fix) from None
        self._channel.listen(self._take, self._cannot_read, self._ended)
        self._told.start()
        self._watcher.start()

    def _new_id(self) -> int:
        with self._lock:
            number = self._next_id
            self._next_id += 1
            return number

    def _send(
        self, message: Request, answer: queue.SimpleQueue[messages.Done | messages.Refused | None] | None
    ) -> int:
        number = self._new_id()
        with self._lock:
            if self._ending:
                raise _gone()
            if answer is not None:
                self._asked[number] = answer
        self._channel.send(msgspec.structs.replace(message, id=number))
        return number

    # --- hearing ----------------------------------------------------------------------------------

    def _take(self, message: Message) -> None:
        """Sort one message; on the reader thread."""
        if isinstance(message, Beat | Hello):
            return
        if isinstance(message, Recipe):
            self._recipe = message
        elif isinstance(message, Closed):
            self._recipe = None
        elif isinstance(message, messages.Done | messages.Refused):
            with self._lock:
                waiting = self._asked.pop(message.id, None)
            if waiting is not None:
                waiting.put(message)
                return
        self._plan_time = getattr(message, "t", self._plan_time)
        self._publish(message)

    def _publish(self, message: Any) -> None:
        late = self._published.qsize() > _BACKLOG
        if not (late and isinstance(message, messages.Readings)):
            self._published.put(message)

    def _cannot_read(self, error: LinkError, request: int) -> None:
        """A line that could not be read: told, and a request that waits for it is answered."""
        log.error("%s", error)
        self._take(complaint(error, request))

    def _tell(self) -> None:
        while (message := self._published.get()) is not None:
            self._on_message(message)

    # --- dying ------------------------------------------------------------------------------------

    def _watch(self) -> None:
        number, due = 0, 0.0
        while not self._over.wait(_TICK):
            now = time.monotonic()
            if now >= due and self._alive():
                number, due = number + 1, now + BEAT_EVERY
                self._channel.send(Beat(n=number))
            most = SILENT_ARMED if self.armed else SILENT_IDLE
            if self._channel.silence() > most:
                self._bury(f"was silent for {most:g} s and was ended")

    def _ended(self) -> None:
        """The pipe's end; on the reader thread."""
        if self._quitting and not self.armed and self._child.wait(5.0):
            if self._first_to_end():
                self._finish()
        else:
            self._child.wait(0.02)  # So that it can be told how it ended, before it is killed.
            self._bury("")

    def _first_to_end(self) -> bool:
        with self._lock:
            first, self._ending = not self._ending, True
        return first

    def _bury(self, how: str) -> None:
        """Once: kill it, cut without it where a run was on, and tell."""
        if not self._first_to_end():
            return
        self._child.kill(0.0)
        self._cutting.acquire()
        recipe = self._last_recipe = self._recipe
        self._recipe = None
        cutter = threading.Thread(target=self._cut, args=(recipe, self._publish), name="cut without recorder")
        cutter.start()
        self._child.wait(1.0)
        end = how or self._child.end or "ended"
        self._publish(_obituary(end, self._log.last_line(), recipe))
        cutter.join()
        self._finish()

    def _cut(self, recipe: Recipe | None, tell: Callable[[CutState], None]) -> None:
        """Cut, and tell what comes of it; whoever starts this holds the lock of one cut at a time."""
        try:
            if recipe is not None:
                cut_without_recorder(
                    recipe, lambda state: tell(msgspec.structs.replace(state, t=self._plan_time))
                )
        finally:
            self._cutting.release()

    def _finish(self) -> None:
        with self._lock:
            waiting = list(self._asked.values())
            self._asked.clear()
        for answer in waiting:
            answer.put(None)
        self._channel.close(0.0)
        self._log.close()
        self._published.put(None)
        self._over.set()


def _always() -> bool:
    return True


def _gone() -> Gone:
    return Gone(WATCH, "is no longer running", "start benchlog again")


_ALARM = "an alarm that sounds goes on for ten minutes at most"


def _obituary(how: str, last_words: str, recipe: Recipe | None) -> Notice:
    problem = f"{how} ({last_words})" if last_words else how
    if recipe is None:
        fix = "start it again; no run was on"
    elif recipe.lines:
        fix = "network supplies are being switched off without it; switch the rest off by hand and pull the plug"
    else:
        fix = "switch off by hand now and pull the plug; a relay on a pumped line drops by itself"
    if recipe is not None:
        fix += f"; {_ALARM}"
    return Notice(place=WATCH, problem=problem, fix=fix, grave=recipe is not None)
