"""Bytes to messages and back, without I/O: lines cut, sized, decoded, and refused in plain sentences.

A line is one JSON object in UTF-8 that ends with a newline and is at most `LINE_LIMIT` bytes
long. A bad line costs that line and nothing else: what follows it is read as if it had not come.
"""

from typing import Any, TypeVar

import msgspec

from benchlog import errors
from benchlog.recorder import messages
from benchlog.recorder.messages import LINE_LIMIT, VERSION, Hello, Incoming, Message, Notice, Outgoing

_UPDATE = "update benchlog, so that both ends are of one version"
WINDOW = "the window or terminal"
"""What a client of the recorder is called to a person."""


class Framer:
    """Cuts a stream of bytes into lines, however it is split, in bounded memory."""

    def __init__(self, limit: int = LINE_LIMIT) -> None:
        self._limit = limit
        self._rest = bytearray()
        self._skipping = False

    def feed(self, data: bytes) -> list[bytes | None]:
        """Give the lines that `data` completes, without their newlines.

        None stands for a line longer than the limit, whose bytes were thrown away; it is given
        as soon as the line is known to be too long.
        """
        lines: list[bytes | None] = []
        start = 0
        while (end := data.find(b"\n", start)) >= 0:
            self._end_line(data[start:end], lines)
            start = end + 1
        self._hold(data[start:], lines)
        return lines

    def _end_line(self, piece: bytes, lines: list[bytes | None]) -> None:
        self._hold(piece, lines)
        if not self._skipping:
            lines.append(bytes(self._rest))
        self._rest.clear()
        self._skipping = False

    def _hold(self, piece: bytes, lines: list[bytes | None]) -> None:
        if self._skipping:
            return
        if len(self._rest) + len(piece) > self._limit:
            self._skipping = True
            self._rest.clear()
            lines.append(None)
        else:
            self._rest += piece


def encode(message: Message) -> bytes:
    """Write a message as one line; `Garbled` if it would be longer than the other side accepts."""
    line = msgspec.json.encode(message)
    if len(line) > LINE_LIMIT:
        kind = type(message).__struct_config__.tag
        problem = f"{kind!r} was not passed on: it is {len(line):,} bytes long"
        raise errors.Garbled("benchlog", problem, f"at most {LINE_LIMIT:,} bytes are")
    return line + b"\n"


UNREADABLE = "said something that cannot be understood"

T = TypeVar("T")
_SHORTER = f"a line holds at most {LINE_LIMIT:,} bytes"
_INCOMING: msgspec.json.Decoder[Incoming] = msgspec.json.Decoder(Incoming)
_OUTGOING: msgspec.json.Decoder[Outgoing] = msgspec.json.Decoder(Outgoing)


def decode_incoming(line: bytes | None) -> Incoming:
    """Read one line that a client sent; None is one that was too long. Raises Garbled or Refused."""
    return _decode(line, _INCOMING, WINDOW)


def decode_outgoing(line: bytes | None) -> Outgoing:
    """Read one line that a recorder sent; None is one that was too long. Raises Garbled or Refused."""
    return _decode(line, _OUTGOING, errors.WATCH)


def _decode(line: bytes | None, decoder: msgspec.json.Decoder[T], sender: str) -> T:
    if line is None:
        raise errors.Garbled(sender, "sent a line that is too long", _SHORTER)
    try:
        return decoder.decode(line.decode())
    except UnicodeDecodeError:
        raise errors.Garbled(sender, "sent a line that is not UTF-8", _UPDATE) from None
    except RecursionError:
        raise errors.Garbled(sender, "sent a line that is nested too deep", _UPDATE) from None
    except msgspec.ValidationError as fault:
        raise errors.Refused(sender, _misfit(line, str(fault)), _UPDATE) from None
    except msgspec.DecodeError as fault:
        raise errors.Garbled(sender, f"sent a line that is not JSON ({fault})", _UPDATE) from None


class _Head(msgspec.Struct):
    """What can be known of a message whose shape is wrong."""

    is_: Any = msgspec.field(default=None, name="is")
    id: Any = 0


_HEAD = msgspec.json.Decoder(_Head)


def _head(line: bytes) -> _Head:
    try:
        return _HEAD.decode(line)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return _Head()


def _misfit(line: bytes, fault: str) -> str:
    kind = _head(line).is_
    if not isinstance(kind, str):
        return "sent a line that does not name its kind of message"
    if fault.endswith("at `$.is`"):
        return f"sent {kind!r}, which is not a kind of message known here"
    return f"sent a {kind!r} that does not fit its shape ({fault})"


def request_of(line: bytes | None) -> int:
    """The id of the request in a line that could not be decoded, 0 where none can be read."""
    found = _head(line).id if line is not None else 0
    return found if isinstance(found, int) and not isinstance(found, bool) else 0


def complaint(error: errors.LinkError, request: int) -> messages.Refused | Notice:
    """What to answer to a bad line: a refusal of its request where one can be told, else a notice.

    In words for a person; what is wrong with the line is for the log.
    """
    if request:
        return messages.Refused(id=request, faults=[(error.place, UNREADABLE, _UPDATE)])
    return Notice(place=error.place, problem=UNREADABLE, fix=_UPDATE)


def check_hello(message: Message, peer: str) -> Hello:
    """Let a peer in whose first message is a hello of our version; `Refused` says why not."""
    if not isinstance(message, Hello):
        raise errors.Refused(peer, "did not greet as benchlog does", _UPDATE)
    if message.version != VERSION:
        whose = f"{peer} ({message.program})" if message.program else peer
        problem = f"is of another benchlog: it speaks by version {message.version}, this end by {VERSION}"
        raise errors.Refused(whose, problem, _UPDATE)
    return message
