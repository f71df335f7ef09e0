"""A live power-up in processes of its own, for something to die in: bench, driver, recorder, alarm.

The bench is started apart with `benchlog simulate`; the driver starts the recorder, and the recorder the
alarm. Each can be killed, stopped or told to end, and what the far end sees then is on a clock that all
of them share.
"""

import os
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from helpers import processes
from helpers.plans import patient_relay
from helpers.program import Running, Said
from helpers.until import until
from helpers.witness import Witness

from benchlog.store import query
from benchlog.store.library import Library
from benchlog.store.places import session_files
from benchlog.store.records import State
from benchlog.store.sweep import SweepReport

SPEED = 10.0
SECOND = 1_000_000_000


class Scene:
    """Bench and driver of one power-up, and what becomes of them."""

    def __init__(
        self, example: str, home: Path, bench: Running, witness: Witness, driver: str = "helpers.driver"
    ) -> None:
        self.example = example
        self.home = home
        self.library = home / "library"
        self.bench = bench
        self.witness = witness
        self._heard = home / "heard.txt"
        (first,) = until(lambda: bench.lines[:1], "the bench's addresses")
        self.addresses: dict[str, str] = first["addresses"]
        patient_relay(home / "bench.toml")
        self.driver = Running(
            driver,
            *("--example", example, "--control", first["control"], "--speed", str(SPEED)),
            *("--bench", home / "bench.toml", "--library", self.library, "--heard", self._heard),
            home=home,
        )

    # --- until it is live ---

    def is_live(self) -> "Scene":
        """Wait until the first stage has dwelt for a while and its readings are stored.

        What stands can be seen to fall: an off that came as the rails rose might not be provable.
        """
        dwelling = ('"is":"stage"', '"state":"dwelling"')
        try:
            self.driver.says(*dwelling, after=self.driver.says(*dwelling))
            self.driver.says('"is":"stored"', after=len(self.driver.said))
        except AssertionError as error:
            error.add_note(f"the bench: {self.bench.status} {self.bench.complained}")
            raise
        return self

    def is_at(self, stage: int) -> "Scene":
        """Wait until a higher stage dwells."""
        self.driver.says('"is":"stage"', '"state":"dwelling"', f'"index":{stage}')
        return self

    @property
    def recorder(self) -> int:
        """The recorder's process number."""
        self.driver.says('"is": "driver"')
        return int(self.driver.lines[0]["recorder"])

    @property
    def alarm(self) -> int:
        """The alarm's process number."""
        (pid,) = until(lambda: processes.children(self.recorder, "benchlog.alarm"), "the alarm")
        return pid

    # --- what happens to them; each gives the moment ---

    def kill(self, pid: int) -> int:
        """SIGKILL a process of the scene."""
        return self._signal(pid, signal.SIGKILL)

    def stop(self, pid: int) -> int:
        """SIGSTOP a process of the scene."""
        return self._signal(pid, signal.SIGSTOP)

    def go_on(self, pid: int) -> int:
        """SIGCONT a process of the scene."""
        return self._signal(pid, signal.SIGCONT)

    def terminate(self, pid: int) -> int:
        """SIGTERM a process of the scene."""
        return self._signal(pid, signal.SIGTERM)

    def _signal(self, pid: int, number: signal.Signals) -> int:
        now = time.monotonic_ns()
        os.kill(pid, number)
        return now

    # --- what was heard and kept ---

    def said(self, kind: str) -> list[Said]:
        """What the driver heard of one kind."""
        return [line for line in self.driver.lines if line["is"] == kind]

    def alarm_heard(self, after: int, hang: float = 60.0) -> int:
        """The first time the alarm was heard after a moment, waited for."""

        def found() -> list[int]:
            if not self._heard.exists():
                return []
            moments = map(int, self._heard.read_text(encoding="ascii").split())
            return [moment for moment in moments if moment > after]

        return until(found, "the alarm", hang)[0]

    @property
    def session(self) -> Path:
        """The one session file."""
        (path,) = session_files(self.library)
        return path

    def is_closed(self, hang: float = 60.0) -> Any:
        """Wait until the recorder has closed the session; how it stands."""
        until(lambda: query.state(self.session).state is State.CLOSED, "the close of the session", hang)
        return query.state(self.session)

    def stored(self) -> dict[str, int]:
        """Per trace, the last sequence number that the driver heard is stored."""
        known: dict[str, int] = {}
        for line in self.said("stored"):
            known |= line["traces"]
        return known

    def kept(self) -> dict[str, list[int]]:
        """Per trace, the sequence numbers in the file."""
        traces = query.traces(self.session)
        return {trace.name: query.readings(self.session, trace.id).seq.tolist() for trace in traces}

    def next_start(self) -> SweepReport:
        """Open the library as the next start does; what its sweep found."""
        with Library.open(self.library) as library:
            return library.swept

    def end(self) -> None:
        """End whatever still runs: recorder, alarm and player all carry the listener's file in their argv."""
        with self.driver:
            pass
        until(self._nobody_left, "the end of recorder, alarm and player")

    def _nobody_left(self) -> bool:
        """Kill them; true once there is none, since one may just be starting another."""
        left = processes.running(str(self._heard))
        for pid in left:
            processes.end(pid)
        return not left


@contextmanager
def scene(
    example: str,
    home: Path,
    *,
    fault: str = "healthy",
    sockets: bool = False,
    driver: str = "helpers.driver",
) -> Iterator[Scene]:
    """A power-up on a bench of its own, everything ended with the block.

    `driver` is the program that runs it: a command, or with `helpers.window_driver` the window.
    `sockets` spares pseudo-terminals: the next bench gets the same ones again, and a recorder that has lost
    its own would open those.
    """
    witness = home / "witness.jsonl"
    arguments = ["--example", example, "--fault", fault, "--speed", str(SPEED), "--until-eof"]
    arguments += ["--witness", str(witness), "--bench", str(home / "bench.toml")]
    arguments += ["--sockets"] if sockets else []
    with Running("benchlog", "simulate", *arguments, home=home) as bench:
        made = Scene(example, home, bench, Witness(witness), driver)
        try:
            yield made
        finally:
            made.end()


def seconds(earlier: int, later: int) -> float:
    """From one moment to another."""
    return (later - earlier) / SECOND
