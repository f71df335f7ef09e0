"""A recorder and its client over real pipes: the recorder in this process, or in one of its own."""

import json
import os
import queue
import subprocess
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from helpers.live_bench import LiveBench
from helpers.plans import short_plan
from helpers.until import until

from benchlog import resources
from benchlog.errors import WATCH, BadInput, Fault, LinkError
from benchlog.recorder import messages
from benchlog.recorder.channel import Channel
from benchlog.recorder.framing import decode_incoming, decode_outgoing
from benchlog.recorder.process import Recorder
from benchlog.store.ids import new_id

M = TypeVar("M", bound=messages.Message)

HANG = 60.0
Person = Callable[[messages.Prompt], bool | None]
"""What a person does with a prompt; None for nothing at all."""


def bench_text(far: LiveBench, example: str, more: str = "") -> str:
    """An example's bench with the far end's addresses."""
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    for job, address in far.bench.addresses.items():
        text = text.replace(json.dumps(f"simulated:{job}"), json.dumps(address))
    return text + more


def hang_up(far: LiveBench, job: str) -> None:
    """An instrument of the far end hangs up on everybody."""
    for session in list(far.bench._plugged[job].thing._sessions):  # type: ignore[union-attr]
        far.loop.after(0.0, session.wire.close)


class Near:
    """The client's end: asks, keeps what it hears, sends heartbeats while `beats`, has a person answer."""

    def __init__(self, reading: int, writing: int, person: Person) -> None:
        self.heard: list[messages.Message] = []
        self.faults: list[LinkError] = []
        self.ended = threading.Event()
        self.beats = True
        self.person = person
        self._writing = writing
        self._channel = Channel(reading, writing, decode_outgoing, peer=WATCH)
        self._answers: dict[int, queue.SimpleQueue[messages.Done | messages.Refused]] = {}
        self._last = 0
        self._over = threading.Event()
        self._prompts: queue.SimpleQueue[messages.Prompt | None] = queue.SimpleQueue()
        self._threads = [threading.Thread(target=what, daemon=True) for what in (self._beat, self._obey)]

    def greet(self) -> messages.Hello:
        """Exchange hellos and begin to listen."""
        hello = self._channel.greet("a test", HANG)
        self._channel.listen(self._hear, lambda error, _: self.faults.append(error), self.ended.set)
        for thread in self._threads:
            thread.start()
        return hello

    # --- asking ---------------------------------------------------------------------------------

    def post(self, message: messages.Request) -> queue.SimpleQueue[messages.Done | messages.Refused]:
        """Ask; where the answer will be."""
        self._last += 1
        self._answers[self._last] = queue.SimpleQueue()
        self._channel.send(msgspec.structs.replace(message, id=self._last))
        return self._answers[self._last]

    def request(self, message: messages.Request) -> dict[str, Any]:
        """Ask and wait: the answer's data. BadInput with what is refused."""
        answer = self.post(message).get(timeout=HANG)
        if isinstance(answer, messages.Refused):
            raise BadInput.of(Fault(*fault) for fault in answer.faults)
        return answer.data

    def say(self, line: bytes) -> None:
        """Send bytes as they are."""
        os.write(self._writing, line)

    def act(self, what: str, stage: int = -1) -> None:
        """What the operator does."""
        self.request(messages.Act(id=0, what=what, stage=stage))

    def open_bench(self, text: str, rate: float) -> dict[str, list[str]]:
        """Attach a bench: its meters with state and text."""
        request = messages.OpenBench(id=0, text=text, place="bench.toml", profiles=[], rate=rate)
        meters: dict[str, list[str]] = self.request(request)["meters"]
        return meters

    def load(self, text: str) -> dict[str, Any]:
        """Load a plan: what the check says."""
        return self.request(messages.LoadPlan(id=0, text=text, place="plan.toml"))

    def arm(self, folder: Path) -> Path:
        """Begin a session: its file."""
        data = self.request(messages.Arm(id=0, session=new_id(), folder=str(folder)))
        return Path(data["session"])

    def ready(self, far: LiveBench, example: str, folder: Path, **plan: float) -> Path:
        """Open an example's bench, load a short form of its plan, prove and arm: the session's file."""
        self.open_bench(bench_text(far, example), far.bench.speed)
        self.load(short_plan(example, **plan))  # type: ignore[arg-type]
        self.request(messages.Prove(id=0))
        return self.arm(folder)

    def live(self, far: LiveBench, example: str, folder: Path, **plan: float) -> Path:
        """The same, and on at the first stage."""
        path = self.ready(far, example, folder, **plan)
        self.act("next")
        self.wait(messages.Stage, lambda stage: stage.state in ("dwelling", "ready"))
        return path

    # --- hearing --------------------------------------------------------------------------------

    def of(self, kind: type[M]) -> list[M]:
        """What was heard of one kind."""
        return [message for message in list(self.heard) if isinstance(message, kind)]

    def events(self, *kinds: str) -> list[messages.Event]:
        """The events of these kinds."""
        return [event for event in self.of(messages.Event) if event.kind in kinds]

    def wait(self, kind: type[M], fits: Callable[[M], bool] = lambda _: True) -> M:
        """The first of a kind that fits, waited for."""
        found = until(lambda: [one for one in self.of(kind) if fits(one)], f"a {kind.__name__}", HANG)
        return found[0]

    def outcomes(self) -> list[str]:
        """What became of the cut, step by step."""
        return [state.outcome for state in self.of(messages.CutState)]

    def hang_up(self) -> None:
        """Be gone."""
        self._over.set()
        self._prompts.put(None)
        self._channel.close(1.0)

    def _hear(self, message: messages.Message) -> None:
        self.heard.append(message)
        if isinstance(message, messages.Done | messages.Refused):
            waiting = self._answers.get(message.id)
            if waiting is not None:
                waiting.put(message)
        elif isinstance(message, messages.Prompt):
            self._prompts.put(message)

    def _beat(self) -> None:
        number = 0
        while not self._over.wait(0.1):
            if self.beats:
                number += 1
                self._channel.send(messages.Beat(n=number))

    def _obey(self) -> None:
        while (prompt := self._prompts.get()) is not None:
            yes = self.person(prompt)
            if yes is not None:
                self.post(messages.Answer(id=0, prompt=prompt.prompt, yes=yes))


def nobody(_: messages.Prompt) -> None:
    """Does nothing."""


def hands(far: LiveBench) -> Person:
    """The simulated hand: does and perceives what a prompt asks for.

    After the run it leaves the dial alone: the test has gone on by then, and wants the control port for itself.
    """

    def does(prompt: messages.Prompt) -> bool | None:
        if prompt.data.get("after"):
            return None
        return bool(far.control("prompt", kind=prompt.kind, **prompt.data)["yes"])

    return does


class Inside(Near):
    """A recorder in this process; `recorder` is itself, `thread` its watch."""

    def __init__(self, person: Person = nobody, *, player: list[str] | None = None) -> None:
        there, writing = os.pipe()
        reading, here = os.pipe()
        super().__init__(reading, writing, person)
        channel = Channel(there, here, decode_incoming, peer="client")
        greeting = threading.Thread(target=channel.greet, args=("a recorder",))
        greeting.start()
        self.greet()
        greeting.join()
        self.recorder = Recorder(channel, player, alarm=player is not None)
        channel.listen(self.recorder.on_message, self.recorder.on_fault, self.recorder.on_end)
        self.thread = threading.Thread(target=self._run, name="watch")
        self.thread.start()

    def _run(self) -> None:
        self.recorder.watch()
        self.recorder.close()

    def gone(self) -> None:
        """Wait until it has ended by itself."""
        self.thread.join(HANG)
        assert not self.thread.is_alive()

    def close(self) -> None:
        """Hang up, and wait until it has ended."""
        self.hang_up()
        self.gone()


class Apart(Near):
    """A recorder in a process of its own, `command` in the place of the real one."""

    def __init__(
        self, log_dir: Path, person: Person = nobody, *, command: Sequence[str] = ("-m", "benchlog.recorder")
    ) -> None:
        self.log = log_dir / "recorder.log"
        own = [sys.executable, *command, "--no-alarm", "--log-dir", str(log_dir)]
        self.process = subprocess.Popen(
            own, stdin=subprocess.PIPE, stdout=subprocess.PIPE, bufsize=0, process_group=0
        )
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        reading, writing = os.dup(self.process.stdout.fileno()), os.dup(self.process.stdin.fileno())
        self.process.stdin.close()
        self.process.stdout.close()
        super().__init__(reading, writing, person)

    def status(self) -> int:
        """Its exit status, waited for."""
        return self.process.wait(HANG)

    def close(self) -> None:
        """Hang up; what does not end is killed."""
        self.hang_up()
        try:
            self.process.wait(HANG)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise
