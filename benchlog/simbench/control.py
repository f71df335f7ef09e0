"""The control port: newline JSON, one answer a request, by which a demo, a panel or a test plays the person.

A request names what to `do`; one with an `id` finds it in its answer, which may come after the answers to
later requests.
"""

import json
from collections.abc import Callable
from typing import Any

from benchlog.errors import BenchlogError
from benchlog.simbench.loop import Loop
from benchlog.simbench.wire import Listener, TcpWire

Answer = Callable[[dict[str, Any]], None]
Handler = Callable[[dict[str, Any], Answer], None]
"""Carries a request out and calls the answer once, now or later."""


class Control:
    """A port that hands requests to `handlers` by their `do`."""

    def __init__(self, loop: Loop, handlers: dict[str, Handler]) -> None:
        self._handlers = handlers
        self._wires: set[TcpWire] = set()
        self._listener = Listener(loop, self._meet)
        self.address = f"tcp://127.0.0.1:{self._listener.port}"

    def close(self) -> None:
        """Take no more requests."""
        self._listener.close()
        for wire in list(self._wires):
            wire.close()

    def _meet(self, make: Callable[[Callable[[bytes], None], Callable[[], None]], TcpWire]) -> None:
        buffer = b""

        def heard(data: bytes) -> None:
            nonlocal buffer
            *lines, buffer = (buffer + data).split(b"\n")
            for line in filter(None, lines):
                self._request(line, lambda answer: wire.send(json.dumps(answer).encode() + b"\n"))

        wire = make(heard, lambda: self._wires.discard(wire))
        self._wires.add(wire)

    def _request(self, line: bytes, send: Callable[[dict[str, Any]], Any]) -> None:
        """Carry one request out; whatever is wrong with it is the answer."""
        name: dict[str, Any] = {}

        def reply(answer: dict[str, Any]) -> None:
            send({**answer, **name})

        try:
            request = json.loads(line)
            name = {"id": request["id"]} if "id" in request else {}
            handler = self._handlers.get(request["do"])
            if handler is None:
                raise ValueError(f"there are: {', '.join(sorted(self._handlers))}")
            handler(request, lambda answer: reply({"ok": True, **answer}))
        except BenchlogError as error:
            reply({"ok": False, "why": str(error)})
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            reply({"ok": False, "why": f"{type(error).__name__}: {error}"})
