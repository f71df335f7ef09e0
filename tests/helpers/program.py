"""The real program and its helpers as processes of their own, with folders of their own."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from helpers.until import until

ROOT = Path(__file__).parents[2]
HANG = 120.0
"""Seconds after which a process counts as hung; a limit, not a goal."""

Said = dict[str, Any]
"""One line that a process printed as a JSON object."""


def environment(home: Path) -> dict[str, str]:
    """The environment of a process that keeps its library and its logs below `home`."""
    folders = [str(ROOT), str(ROOT / "tests"), str(ROOT / "scripts"), os.environ.get("PYTHONPATH", "")]
    paths = os.pathsep.join(filter(None, folders))
    own = {"BENCHLOG_LIBRARY": str(home / "library"), "BENCHLOG_LOG_DIR": str(home / "log")}
    return os.environ | own | {"PYTHONPATH": paths, "PYTHONUNBUFFERED": "1"}


@dataclass(frozen=True)
class Ended:
    """A process that has ended: its exit status and everything it said."""

    status: int
    out: str
    err: str

    @property
    def lines(self) -> list[Said]:
        """Its standard output as JSON objects."""
        return [json.loads(line) for line in self.out.splitlines()]

    @property
    def complaints(self) -> list[str]:
        """Its standard error, line by line."""
        return self.err.splitlines()


def benchlog(
    *arguments: str | Path, home: Path, stdin: str = "", hang: float = HANG, **variables: str
) -> Ended:
    """Run the program to its end, with these variables in its environment."""
    ran = subprocess.run(
        [sys.executable, "-m", "benchlog", *map(str, arguments)],
        cwd=home,
        env=environment(home) | variables,
        input=stdin,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=hang,
        check=False,
    )
    return Ended(ran.returncode, ran.stdout, ran.stderr)


class Running:
    """A process that is listened to while it runs; ended at the latest with the `with` block."""

    def __init__(self, module: str, *arguments: str | Path, home: Path, **variables: str) -> None:
        self.said: list[str] = []
        self.complained: list[str] = []
        self._process = subprocess.Popen(
            [sys.executable, "-m", module, *map(str, arguments)],
            cwd=home,
            env=environment(home) | variables,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            bufsize=1,
            # A terminal's Ctrl-C of whoever runs the tests is theirs alone.
            start_new_session=True,
        )
        heard = ((self._process.stdout, self.said), (self._process.stderr, self.complained))
        self._listeners = [threading.Thread(target=_listen, args=pair, daemon=True) for pair in heard]
        for listener in self._listeners:
            listener.start()

    def __enter__(self) -> "Running":
        return self

    def __exit__(self, *_: object) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self.wait()

    @property
    def pid(self) -> int:
        """Its process number."""
        return self._process.pid

    @property
    def status(self) -> int | None:
        """Its exit status, None while it runs."""
        return self._process.poll()

    @property
    def lines(self) -> list[Said]:
        """What it printed so far, as JSON objects; anything else is left out."""
        return [json.loads(line) for line in list(self.said) if line.startswith("{")]

    def types(self, text: str) -> None:
        """Type a line; one that has ended does not hear it."""
        assert self._process.stdin is not None
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.write(f"{text}\n")
            self._process.stdin.flush()

    def hears_no_more(self) -> None:
        """Close its standard input."""
        assert self._process.stdin is not None
        self._process.stdin.close()

    def send(self, number: signal.Signals) -> None:
        """Send it a signal."""
        self._process.send_signal(number)

    def says(self, *parts: str, after: int = 0, hang: float = HANG) -> int:
        """Wait until a line holds all of these; its number, to look `after` it for the next one."""

        def found() -> list[int]:
            lines = list(self.said)
            return [n for n in range(after, len(lines)) if all(part in lines[n] for part in parts)][:1]

        def found_or_ended() -> list[int]:
            ended = self.status is not None and not any(one.is_alive() for one in self._listeners)
            return found() or ([-1] if ended else [])

        (number,) = until(found_or_ended, f"{parts}", hang)
        assert number >= 0, f"ended with {self.status} without {parts}: {self.said[-3:]} {self.complained}"
        return number + 1

    def wait(self, hang: float = HANG) -> Ended:
        """Wait for its end."""
        status = self._process.wait(hang)
        for listener in self._listeners:
            listener.join(hang)
        for stream in (self._process.stdin, self._process.stdout, self._process.stderr):
            if stream is not None and not stream.closed:
                with contextlib.suppress(BrokenPipeError):
                    stream.close()
        return Ended(status, "\n".join(self.said), "\n".join(self.complained))


def _listen(stream: Any, to: list[str]) -> None:
    for line in stream:
        to.append(line.rstrip("\n"))  # noqa: PERF401 - whoever waits sees each line as it comes
