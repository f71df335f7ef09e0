"""A person at a terminal beside a simulated bench: reads what is asked, does it there, presses Enter."""

import re
import threading
from pathlib import Path
from typing import Any

from helpers.program import Running
from helpers.until import until

from benchlog.commands.simulated import Hands

ASKED: tuple[tuple[str, str, dict[str, Any]], ...] = (
    (r"Turn the variable transformer to zero", "set_dial", {"fraction": 0.0}),
    (r"Set the variable transformer to (\d+) %", "set_dial", {}),
    (r"should have clicked", "relay_clicked", {"times": 2}),
    (r"Switch the unit on", "switch_on", {}),
    (r"[Ss]witch the unit off now", "switch_off", {}),
    (r"Did you hear it", "heard_alarm", {}),
)
"""What stands in a prompt, and what the control port calls it."""


class Person:
    """Follows the prompts of a running program until told otherwise; `did` is what was asked for so far.

    A prompt that says `leaves` is left to the test.
    """

    def __init__(self, program: Running, control: str, leaves: str = "") -> None:
        self.did: list[str] = []
        self._leaves = leaves
        self._program = program
        self._hands = Hands(control)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._follow, name="person")
        self._thread.start()

    def __enter__(self) -> "Person":
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()
        self._hands.close()

    def _follow(self) -> None:
        read = 0
        while not self._over.is_set() and self._program.status is None:
            lines = self._program.said[read:]
            read += len(lines)
            for line in lines:
                if line.startswith("> ") and not (self._leaves and self._leaves in line):
                    self._obey(line)
            self._over.wait(0.01)

    def _obey(self, line: str) -> None:
        for pattern, kind, how in ASKED:
            found = re.search(pattern, line)
            if found is None:
                continue
            percent = {"fraction": float(found[1]) / 100} if found.groups() else {}
            answer = self._hands.ask(do="prompt", kind=kind, **how, **percent)
            self.did.append(kind)
            done = "off" if "[off:" in line else ""
            self._program.types(done if answer["yes"] else "n")
            return


def addresses_of(bench: Running) -> dict[str, Any]:
    """What a simulated bench says of itself in its first line."""
    (first,) = until(lambda: bench.lines[:1], "the bench's addresses")
    return first


def a_player_on_the_path(folder: Path, listener: str) -> str:
    """A PATH on which `listener`, a command line, is the platform's player."""
    folder.mkdir()
    player = folder / "paplay"
    player.write_text(f'#!/bin/sh\nexec {listener} "$@"\n', encoding="ascii")
    player.chmod(0o755)
    return str(folder)
