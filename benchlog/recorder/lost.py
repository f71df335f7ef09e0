"""What is left to do when the recorder is dead: the network cut from its last recipe.

The cut runs in a process of its own, since a thread beside a busy window may stand still for most
of a second; where none can be started it runs in a thread here.
"""

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec

from benchlog.errors import LinkError
from benchlog.recorder import oneshot
from benchlog.recorder.child import Child
from benchlog.recorder.framing import Framer, decode_outgoing, encode
from benchlog.recorder.messages import CutState, Recipe

_SCRIPT = Path(oneshot.__file__)
_FINAL = {"verified off", "asked, still live", "refused", "unknown"}


def cut_without_recorder(
    recipe: Recipe, on_state: Callable[[CutState], None], *, python: str = sys.executable
) -> None:
    """Switch off what the recipe names, and tell what came of it.

    Blocks until each path has its final state, some ten seconds at most. A path of which nothing
    was heard is told as `unknown`.
    """
    final: set[str] = set()

    def keep(state: CutState) -> None:
        if state.outcome in _FINAL:
            final.add(state.path)
        on_state(state)

    if not recipe.lines:
        return
    try:
        child = Child([python, "-I", "-S", str(_SCRIPT), str(oneshot.PATIENCE)])
    except LinkError:
        oneshot.cut(recipe.lines, oneshot.PATIENCE, lambda said: keep(msgspec.convert(said, CutState)))
    else:
        _feed(child, recipe)
        for state in _states(child.reading):
            keep(state)
        if not child.wait(1.0):
            child.kill()
    for path in {f"{host}:{port}" for host, port, *_ in recipe.lines} - final:
        text = "nothing tells whether off reached it"
        keep(CutState(t=0, path=path, outcome="unknown", text=text, asked_ns=0, at_ns=0))


def _feed(child: Child, recipe: Recipe) -> None:
    try:
        os.write(child.writing, encode(recipe))
    except OSError:
        pass  # It ended at once; what it did not tell is told as unknown.
    os.close(child.writing)


def _states(reading: int) -> Iterator[CutState]:
    framer = Framer()
    while data := os.read(reading, 1 << 16):
        for line in framer.feed(data):
            try:
                message = decode_outgoing(line)
            except LinkError:
                continue  # What it did not tell in so many words is told as unknown.
            if isinstance(message, CutState):
                yield message
    os.close(reading)
