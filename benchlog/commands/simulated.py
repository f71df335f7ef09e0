"""The simulated bench as the demo sees it: a process of its own, its witness, and the person's hands or panel."""

import contextlib
import json
import socket
import subprocess
import sys
import threading
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Self

from benchlog import resources
from benchlog.commands.conduct import Controls
from benchlog.domain.stages import State
from benchlog.errors import BadInput, BenchlogError, Gone
from benchlog.recorder import messages

ANSWER_SECONDS = 120.0
START_AGAIN = "start the demo again"


class Simulated:
    """A simulated bench that runs until closed; its witness is written to `witness`.

    `played` says that a person plays at a panel, so that nobody else goes to the switch at an alarm;
    `thinned` leaves most readings out of the witness.
    """

    def __init__(
        self,
        example: str,
        fault: str,
        speed: float,
        witness: Path,
        *,
        played: bool = False,
        thinned: bool = False,
    ) -> None:
        options = ["--example", example, "--fault", fault, "--speed", str(speed), "--until-eof"]
        options += ["--played"] * played + ["--thinned"] * thinned
        self._process = _start("benchlog.simbench", *options)
        lines = self._process.stdout
        first = lines.readline() if lines is not None else ""
        if not first or lines is None:
            raise Gone(
                "simulated bench", "ended before it said where it is", "run benchlog simulate to see why"
            )
        said = json.loads(first)
        self.addresses: dict[str, str] = said["addresses"]
        self.control: str = said["control"]
        self.speed: float = said["speed"]
        self._witness = threading.Thread(target=self._write_down, args=(lines, witness), daemon=True)
        self._witness.start()
        self.hands = Hands(self.control)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @staticmethod
    def _write_down(lines: IO[str], witness: Path) -> None:
        with witness.open("w", encoding="utf-8") as file:
            for line in lines:
                file.write(line)

    def bench_of(self, example: str) -> str:
        """The example's bench file with the real addresses in place of the simulated ones."""
        text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
        for job, address in self.addresses.items():
            text = text.replace(json.dumps(f"simulated:{job}"), json.dumps(address))
        return text

    def close(self) -> None:
        """End the process and wait for its witness."""
        self.hands.close()
        _end(self._process)
        self._witness.join(5.0)
        if self._process.stdout is not None:
            self._process.stdout.close()


class Panel:
    """A person's hands instead: the panel of the simulated bench, a window of its own until closed."""

    def __init__(self, control: str) -> None:
        self._process = _start("benchlog.window.panel", control)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """End it; a person may have closed it before."""
        _end(self._process)
        if self._process.stdout is not None:
            self._process.stdout.close()


class Hands:
    """The simulated person's hands, eyes and ears, over the bench's control port."""

    def __init__(self, control: str) -> None:
        self._control = control
        self._lock = threading.Lock()
        self._socket, self._lines = self._connect()

    def _connect(self) -> tuple[socket.socket, IO[bytes]]:
        host, _, port = self._control.removeprefix("tcp://").rpartition(":")
        try:
            connected = socket.create_connection((host, int(port)), timeout=ANSWER_SECONDS)
        except OSError as error:
            problem = f"does not answer ({error.strerror or error})"
            raise Gone("simulated bench", problem, START_AGAIN) from None
        return connected, connected.makefile("rb")

    def ask(self, **request: Any) -> dict[str, Any]:
        """One request and its answer; Gone where the bench has ended, BenchlogError where it refuses."""
        with self._lock:
            try:
                self._socket.sendall(json.dumps(request).encode() + b"\n")
                line = self._lines.readline()
            # A file that was closed meanwhile answers with the second.
            except (OSError, ValueError):
                line = b""
        if not line:
            raise Gone("simulated bench", "has ended", START_AGAIN)
        answer: dict[str, Any] = json.loads(line)
        if not answer["ok"]:
            raise BenchlogError("simulated bench", answer.get("why", "refused"), START_AGAIN)
        return answer

    def attend(self, run: Controls) -> None:
        """The run begins: what is asked is answered there."""
        self._run = run

    def asked(self, prompt: messages.Prompt) -> None:
        """Do or perceive what the recorder asks of a person, in the time it takes."""
        threading.Thread(target=self._obey, args=(prompt,), name="hands", daemon=True).start()

    def _obey(self, prompt: messages.Prompt) -> None:
        try:
            done = bool(self.ask(do="prompt", kind=prompt.kind, **prompt.data).get("yes", True))
        except BenchlogError:
            done = False
        self._run.answer(prompt.prompt, done)

    def never_mind(self) -> None:
        """The simulated person hears the alarm for itself."""

    def stands(self, stage: messages.Stage) -> None:
        """Nothing of its plans asks for what only a person can tell."""

    def goes_on(self, stage: messages.Stage) -> str:
        """This person goes up whenever the next stage is offered, and gives up what could not be set."""
        return {State.READY: "next", State.HELD: "off"}.get(State(stage.state), "close")

    def refused(self, error: BadInput) -> None:
        """It never asks for anything by itself."""

    def probe(self, part: str, side: str = "") -> None:
        """Put the probes of the parts meter on a part; `side` is `reverse` for the leads the other way round."""
        self.ask(do="probe", part=part, side=side)

    def close(self) -> None:
        """Hang up; whoever still waits for an answer gets none."""
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)
        self._lines.close()
        self._socket.close()


def _start(module: str, *arguments: str) -> subprocess.Popen[str]:
    """Start one of our processes, which ends with its standard input; a terminal's Ctrl-C is not for it."""
    command = [sys.executable, "-m", module, *arguments]
    pipe = subprocess.PIPE
    if sys.platform == "win32":
        group = subprocess.CREATE_NEW_PROCESS_GROUP
        started = subprocess.Popen(
            command, stdin=pipe, stdout=pipe, text=True, encoding="utf-8", creationflags=group
        )
    else:
        started = subprocess.Popen(
            command, stdin=pipe, stdout=pipe, text=True, encoding="utf-8", process_group=0
        )
    return started


def _end(process: subprocess.Popen[str]) -> None:
    if process.stdin is not None:
        process.stdin.close()
    try:
        process.wait(5.0)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
