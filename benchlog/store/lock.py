"""A lock held by an open file, which the system lets go of when its holder dies, however it dies."""

import os
import socket
import sys
from pathlib import Path
from typing import BinaryIO

from benchlog.errors import Busy
from benchlog.store.ids import utc_now
from benchlog.store.opening import plain_errors

if sys.platform == "win32":  # pragma: no cover
    import msvcrt

    def _lock(stream: BinaryIO) -> None:
        # Locks here keep others from reading too, so the locked byte lies far behind the text.
        stream.seek(0x7FFF_FFFE)
        msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(stream: BinaryIO) -> None:
        fcntl.flock(stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)


def hold(stream: BinaryIO) -> bool:
    """Lock an open file for as long as it stays open; False where another holds it, or none can be held there."""
    try:
        _lock(stream)
    except OSError:
        return False
    stream.seek(0)
    return True


class FileLock:
    """Holds `path` locked from `take` to `release`; who holds it stands in the file as text."""

    def __init__(self, path: Path, stream: BinaryIO) -> None:
        self.path = path
        self._stream = stream

    @classmethod
    def take(cls, path: Path, what: str) -> "FileLock":
        """Lock `path` or raise `Busy` with its holder; `what` names in the sentence what is locked."""
        with plain_errors(path):
            path.touch()
            stream = path.open("r+b", buffering=0)
        try:
            _lock(stream)
        except OSError:
            stream.close()
            raise Busy(what, f"is in use by {holder(path)}", "close that one first") from None
        with plain_errors(path):
            stream.seek(0)
            stream.truncate()
            stream.write(f"process {os.getpid()} on {socket.gethostname()} since {utc_now()}\n".encode())
        return cls(path, stream)

    def release(self, *, remove: bool = False) -> None:
        """Let go; `remove` also takes the file away, where nobody else holds it open."""
        self._stream.close()
        if remove:
            try:
                self.path.unlink(missing_ok=True)
            except OSError:  # Windows, while another looks at it: the next sweep removes it
                return


def holder(path: Path) -> str:
    """Who holds the lock, as its file says; for a sentence, never for a decision."""
    try:
        text = path.read_text("utf-8", "replace").strip()
    except OSError:
        text = ""
    return f"another benchlog ({text})" if text else "another benchlog"
