"""Holds sleep and a blank screen off while a run is open or parts are taken: hands on probes touch no key.

What holds them off is a command of the platform's, for as long as another one lasts: that one waits for the end of
its standard input, which comes with the end of this process, however that dies.
"""

import os
import shutil
import sys
import threading
from collections.abc import Callable, Sequence

from benchlog.errors import LinkError
from benchlog.recorder.child import Child
from benchlog.recorder.clock import SECOND, Clock, wire_now
from benchlog.recorder.messages import Notice
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.writer import Writer

MAY_SLEEP_VARIABLE = "BENCHLOG_MAY_SLEEP"
"""Set to anything but 0, nothing is held off: for tests, and for a computer that never sleeps."""
ROUND_SECONDS = 1800.0
"""Wire seconds for which it is held off after a part was read: sheet and next part are looked for meanwhile."""
PARTING = 1.0

_LASTING = "cat"
_WHY = "a unit on the bench is being watched"
# A desktop blanks by its own clock, and some do not look at what systemd was told.
_LINUX = (
    ("systemd-inhibit", "--what=idle:sleep", "--who=benchlog", f"--why={_WHY}", "--mode=block"),
    ("elogind-inhibit", "--what=idle:sleep", "--who=benchlog", f"--why={_WHY}", "--mode=block"),
    ("gnome-session-inhibit", "--app-id", "benchlog", "--reason", _WHY, "--inhibit", "suspend:idle"),
    ("mate-session-inhibit", "--app-id", "benchlog", "--reason", _WHY, "--inhibit", "suspend:idle"),
)
_MAC = (("caffeinate", "-dims"),)
# Continuous, system and display; it holds for as long as the thread that asked for it lives.
_WINDOWS = """
import ctypes, sys
if not ctypes.windll.kernel32.SetThreadExecutionState(0x80000003):
    sys.exit(1)
sys.stdin.read()
"""


def ways(platform: str = sys.platform, which: Callable[[str], str | None] = shutil.which) -> list[list[str]]:
    """The commands that hold it off on this computer, to run side by side; each ends with its input."""
    if platform == "win32":
        return [[sys.executable, "-I", "-S", "-c", _WINDOWS]]
    known: Sequence[tuple[str, ...]] = _MAC if platform == "darwin" else _LINUX
    found = ((which(name), options) for name, *options in known)
    return [[path, *options, _LASTING] for path, options in found if path]


class Awake:
    """Keeps the computer awake while a session is open, and for a while after each part.

    Where that cannot be, the person is told once, and each run keeps it as an event. Starting a process takes
    time, so that all of it is done in a thread of its own; no call here blocks, but for `close`.
    """

    def __init__(self, clock: Clock, outlet: Outlet) -> None:
        self._clock, self._outlet = clock, outlet
        self._allowed = os.environ.get(MAY_SLEEP_VARIABLE, "0") in {"", "0"}
        self._over = self._told = False
        self._session: Writer | None = None
        self._until = 0
        self._holders: list[_Holder] | None = None
        self._wake = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="awake", daemon=True)
        self._thread.start()

    def look(self) -> None:
        """See whether a session is open; to be called many times a second."""
        session = self._outlet.writer
        if session is not self._session:
            self._session = session
            self._wake.set()

    def part(self) -> None:
        """A part is read: stay awake until the next one."""
        self._until = wire_now() + int(ROUND_SECONDS * SECOND)
        self._wake.set()

    def close(self) -> None:
        """Let the computer sleep, and end."""
        self._over = True
        self._wake.set()
        self._thread.join(5.0)

    def _serve(self) -> None:
        before = None
        while not self._over:
            self._wake.clear()
            session, left = self._session, (self._until - wire_now()) / SECOND
            new = session is not None and session is not before
            if not self._allowed or (session is None and left <= 0.0):
                self._let_go()
            elif self._holders is None or (new and not self._held):
                self._hold()
            elif self._holders and not self._held:
                self._give_up()
            before = session
            self._wake.wait(left if left > 0.0 else None)
        self._let_go()

    @property
    def _held(self) -> bool:
        return any(not holder.ended for holder in self._holders or ())

    def _hold(self) -> None:
        self._let_go()
        self._holders = []
        for command in ways():
            try:
                self._holders.append(_Holder(command, self._wake.set))
            except LinkError:
                continue
        if not self._holders:
            self._give_up()

    def _let_go(self) -> None:
        for holder in self._holders or ():
            holder.let_go()
        self._holders = None

    def _give_up(self) -> None:
        """Nothing holds it off, or no longer does: say so, and try again for the next run."""
        self._let_go()
        self._holders = []
        if not self._told:
            self._told = True
            self._outlet.send(Notice(place="this computer", problem=_PROBLEM, fix=_FIX))
        if self._session is not None:
            self._outlet.event(self._clock.now(), "may sleep", f"this computer {_PROBLEM}")


_PROBLEM = "may go to sleep or blank its screen: holding that off did not work"
_FIX = "switch both off in its settings while you measure"


class _Holder:
    """One command that holds it off; `ended` once it does not, and then `changed` is called."""

    def __init__(self, command: list[str], changed: Callable[[], None]) -> None:
        self.ended = False
        self._changed = changed
        self._child = Child(command)
        threading.Thread(target=self._read, name="holds off sleep", daemon=True).start()

    def let_go(self) -> None:
        os.close(self._child.writing)
        if not self._child.wait(PARTING):
            self._child.kill()

    def _read(self) -> None:
        while os.read(self._child.reading, 64):
            pass
        os.close(self._child.reading)
        self.ended = True
        self._changed()
