"""Who is whose child, and whether a process lives, as /proc tells."""

import os
import signal
from pathlib import Path

HAS_PROC = Path("/proc/self/stat").exists()


def running(*words: str) -> list[int]:
    """The processes whose command line holds all of these."""
    everyone = (int(folder.name) for folder in Path("/proc").glob("[0-9]*"))
    return [pid for pid in everyone if all(word in command_line(pid) for word in words) and lives(pid)]


def children(pid: int, word: str) -> list[int]:
    """The living children of a process whose command line holds `word`."""
    return [child for child in running(word) if (state := _state(child)) is not None and state[1] == pid]


def lives(pid: int) -> bool:
    """Whether a process runs; one that is dead and not yet reaped does not."""
    state = _state(pid)
    return state is not None and state[0] not in "ZX"


def command_line(pid: int) -> str:
    """How a process was started."""
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
    except OSError:
        return ""


def end(pid: int) -> None:
    """End a process that may have ended already."""
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def _state(pid: int) -> tuple[str, int] | None:
    """Its state letter and its parent."""
    try:
        text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return None
    state, parent = text.rpartition(")")[2].split()[:2]
    return state, int(parent)
