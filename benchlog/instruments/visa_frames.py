"""What a VISA link and the process that holds its session say to each other: kind, length, bytes."""

import struct
from collections.abc import Iterator

from benchlog.errors import Garbled, Gone, LinkError, Refused, TimedOut

READY, OPEN, DATA, FAILED = b"R", b"O", b"D", b"F"
"""From the process: VISA is loaded; the session is open; bytes came; it ended, and why."""
WRITE = b"W"
"""To the process: one whole message for the instrument."""

_HEAD = struct.Struct("!cI")
_KINDS: dict[str, type[LinkError]] = {kind.__name__: kind for kind in (TimedOut, Gone, Refused, Garbled)}


def pack(kind: bytes, data: bytes = b"") -> bytes:
    """One frame."""
    return _HEAD.pack(kind, len(data)) + data


class Frames:
    """Cuts what came into whole frames."""

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, data: bytes) -> Iterator[tuple[bytes, bytes]]:
        """The frames that `data` completes, as (kind, bytes)."""
        self._rest += data
        while len(self._rest) >= _HEAD.size:
            kind, length = _HEAD.unpack_from(self._rest)
            end = _HEAD.size + length
            if len(self._rest) < end:
                return
            body, self._rest = self._rest[_HEAD.size : end], self._rest[end:]
            yield kind, body


def pack_failure(error: LinkError) -> bytes:
    """The last frame of a session that failed."""
    text = f"{type(error).__name__}\n{error.problem}\n{error.fix}"
    return pack(FAILED, text.encode())


def failure(body: bytes, place: str) -> LinkError:
    """What such a frame says, as an error at `place`."""
    name, problem, fix = body.decode(errors="replace").split("\n")
    return _KINDS.get(name, Gone)(place, problem, fix)
