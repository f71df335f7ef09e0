"""The one-shot recorder: switches network supplies off after the recorder died, and does nothing else.

It reads one recipe line on standard input and prints one JSON `cut_state` line as each off line
leaves and one with what came of it. Nothing but the barest of the standard library is imported,
so that the line is on the wire some 30 ms after the start. A relay's port is never opened here:
opening it would pulse its lines.
"""

import json
import socket
import sys
import threading
import time
from collections.abc import Callable

Line = tuple[str, int, str, str, str, list[str]]
"""(host, port, text to send, question that reads the state back, answers that mean off with `|` between, and a
question for the volts of each output, since the state alone is only the supply's word)."""
Say = Callable[[dict[str, object]], None]

PATIENCE = 10.0
"""Seconds after which it gives up, unless told otherwise."""
_CONNECT, _REPLY, _PAUSE = 1.0, 1.0, 0.1
_DEAD, _FALL = 1.0, 0.01
"""Volts below which an output is dead, and the share of its first reading that a charged one must have lost."""


def cut(lines: list[Line], seconds: float, say: Say) -> bool:
    """Switch everything off at the same time; gives whether every path was verified off.

    `say` gets each cut state as a dict in the shape of the channel's message; it is called from
    several threads.
    """
    until = time.monotonic() + seconds
    paths = [_Path(line, until, say) for line in lines]
    threads = [threading.Thread(target=path.run, daemon=True) for path in paths]
    for thread in threads:
        thread.start()
    for thread in threads:
        # The name service may block for longer than any deadline of ours.
        thread.join(max(0.0, until - time.monotonic()) + 0.5)
    for path in paths:
        path.finish()
    return all(path.outcome == "verified off" for path in paths)


class _Path:
    """The off line of one supply, sent and sent again until its state reads off."""

    def __init__(self, line: Line, until: float, say: Say) -> None:
        self._host, self._port, off, question, answer, volts = line
        self._volts = [_whole(one) for one in volts]
        self._first: dict[bytes, float] = {}
        self._off, self._question = _whole(off), _whole(question)
        self._answers = {_bare(one) for one in answer.split("|")}
        self._until, self._say = until, say
        self._asked_ns = 0
        self._told = threading.Lock()
        self.outcome = "unknown"
        self._text = "not asked, no connection"

    def run(self) -> None:
        while self.outcome != "verified off" and self._left() > 0:
            try:
                with socket.create_connection((self._host, self._port), min(_CONNECT, self._left())) as link:
                    link.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                    self._talk(link)
            except OSError as fault:
                self._fail(fault)
            time.sleep(max(0.0, min(_PAUSE, self._left())))
        self.finish()

    def finish(self) -> None:
        """Say what came of it, once."""
        if self._told.acquire(blocking=False):
            self._tell(self.outcome, self._text)

    def _talk(self, link: socket.socket) -> None:
        """Send and ask until the answer means off; a reply that stays away raises, and reconnects.

        Every answer here was asked for after the off line of the same connection, so one that
        comes late still tells of a state after it.
        """
        rest = b""
        while self._left() > 0:
            link.settimeout(min(_REPLY, self._left()))
            link.sendall(self._off)
            if not self._asked_ns:
                self._asked_ns = time.monotonic_ns()
                self._tell("asked", "off was sent to it directly")
            if not self._question:
                self._note("unknown", "asked; this supply has no question to read its state back")
                return
            link.sendall(self._question)
            reply, rest = _reply(link, rest)
            said = reply.strip().decode("ascii", "replace")
            if _bare(said) not in self._answers:
                self._note("asked, still live", f"its state reads {said}")
            else:
                rest = self._read_volts(link, rest, said)
            if self.outcome == "verified off":
                return
            time.sleep(max(0.0, min(_PAUSE, self._left())))

    def _read_volts(self, link: socket.socket, rest: bytes, said: str) -> bytes:
        """Whether every output is dead or falls, though it says off; gives what came after the last answer."""
        read: list[tuple[float, bool]] = []
        for question in self._volts:
            link.sendall(question)
            reply, rest = _reply(link, rest)
            try:
                value = abs(float(reply))
            except ValueError:
                self._note("unknown", f"its state reads {said}, and its volts cannot be read")
                return rest
            first = self._first.setdefault(question, value)
            read.append((value, value < _DEAD or value <= (1.0 - _FALL) * first))
        volts = ", ".join(f"{value:.1f} V" for value, _ in read)
        if not read:
            self._note("unknown", f"its state reads {said}, and nothing reads its volts")
        elif all(gone for _, gone in read):
            self._note("verified off", f"its state reads {said}, its outputs {volts}")
        else:
            self._note("asked, still live", f"STILL LIVE: its state reads {said}, its outputs {volts}")
        return rest

    def _fail(self, fault: OSError) -> None:
        if self._asked_ns:
            self._note("unknown", f"asked, but no answer ({fault})")
        elif isinstance(fault, ConnectionRefusedError):
            self._note("refused", f"not asked, the connection is refused ({fault.strerror})")
        else:
            self._note("unknown", f"not asked, no connection ({fault})")

    def _left(self) -> float:
        return self._until - time.monotonic()

    def _note(self, outcome: str, text: str) -> None:
        self.outcome, self._text = outcome, text

    def _tell(self, outcome: str, text: str) -> None:
        path = f"{self._host}:{self._port}"
        now = time.monotonic_ns()
        self._say(
            {
                "is": "cut_state",
                "t": 0,
                "path": path,
                "outcome": outcome,
                "text": text,
                "asked_ns": self._asked_ns,
                "at_ns": now,
            }
        )


def _bare(answer: str) -> str:
    """An answer without what may differ between two supplies of a kind: blanks, and small letters."""
    return "".join(answer.split()).casefold()


def _whole(text: str) -> bytes:
    """A whole line of it; nothing of nothing."""
    line = text.encode("ascii", "replace")
    return line if not line or line.endswith((b"\n", b"\r")) else line + b"\n"


def _reply(link: socket.socket, rest: bytes) -> tuple[bytes, bytes]:
    """The next line and what came after it; raises OSError where none comes."""
    rest = rest.lstrip(b"\n")
    until = time.monotonic() + _REPLY
    while b"\n" not in rest:
        if time.monotonic() > until or len(rest) > 4096:
            raise TimeoutError("its answer never ended")
        more = link.recv(4096)
        if not more:
            raise ConnectionResetError("it hung up")
        rest = (rest + more).replace(b"\r", b"\n").lstrip(b"\n")
    line, _, rest = rest.partition(b"\n")
    return line, rest


def main(argv: list[str]) -> int:
    """Cut what the recipe on standard input names; 0 where all is verified off, 1 otherwise."""
    try:
        recipe = json.loads(sys.stdin.readline())
        lines = [
            (str(h), int(p), str(o), str(q), str(a), [str(one) for one in v])
            for h, p, o, q, a, v in recipe["lines"]
        ]
        seconds = float(argv[0]) if argv else PATIENCE
    except (ValueError, TypeError, KeyError) as fault:
        sys.stderr.write(f"one-shot recorder: standard input holds no recipe ({fault}).\n")
        return 2
    voice = threading.Lock()

    def say(state: dict[str, object]) -> None:
        with voice:
            try:
                sys.stdout.write(json.dumps(state) + "\n")
                sys.stdout.flush()
            except OSError:
                pass  # Whoever started us is gone; what counts is on the wire.

    return 0 if cut(lines, seconds, say) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
