"""Plays one signature without a window: `python -m helpers.signature_run NAME FOLDER` prints what came of it."""

import json
import sys
from dataclasses import asdict
from pathlib import Path

from helpers.live_bench import LiveBench
from helpers.near import bench_text
from helpers.signature_came import HANG, Came, Patience, Truth, live_for, play_apart
from helpers.signatures import BY_NAME, Signature, plan_of

from benchlog import textfile
from benchlog.commands.conduct import Conductor, Ear
from benchlog.commands.simulated import Hands
from benchlog.domain.cold_checks import told
from benchlog.domain.plan import Plan
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder


def play(name: str, home: Path) -> Came:
    """Play it in a process of its own."""

    def read(said: str) -> tuple[Came, Came]:
        came = Came(**json.loads(said))
        return came, came

    return play_apart("helpers.signature_run", name, home, read)


class _Person(Hands):
    """The simulated person, who meddles with a meter at a stage and gives up what is not offered for long."""

    def __init__(self, far: LiveBench, signature: Signature, came: Came) -> None:
        super().__init__(far.address("control"))
        self._far, self._signature, self._came = far, signature, came
        self._patience = Patience(signature)

    def see(self, message: messages.Message) -> None:
        """Look at what is published."""
        self._came.hear(message)
        if isinstance(message, messages.Stage):
            if self._patience.gives_up(message):
                self._run.act("off", -1)
            act = self._signature.act
            if act is not None and self._patience.to_meddle(message):
                self._far.loop.after(0.0, lambda: self._far.bench.person.tamper(act.job, act.does))


def run(signature: Signature, home: Path) -> Came:
    """Play a signature to its end, in this process."""
    came = Came(speed=signature.speed)
    far = live_for(signature)
    truth = Truth(far, signature)
    person = _Person(far, signature, came)
    ear = Ear(person.see)
    player = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")]
    try:
        with Recorder.start(on_message=ear.hear, player=player, log_dir=home) as recorder:
            bench = bench_text(far, signature.example)
            ask = recorder.request
            ask(messages.OpenBench(id=0, text=bench, place="bench", profiles=[], rate=signature.speed), HANG)
            ask(messages.LoadPlan(id=0, text=plan_of(signature), place="plan"))
            conductor = Conductor(recorder, ear, person)
            cold = [
                told(one, yes=True) for one in textfile.parse(plan_of(signature), "plan", Plan).cold_checks
            ]
            course = conductor.run(str(home / "sessions"), cold=cold)
    finally:
        person.close()
        far.close()
    assert course.closed is not None
    came.outcome, came.reason, came.off = course.closed.outcome, course.closed.reason, course.off
    came.stages = course.stages
    came.account(signature, truth, Path(course.closed.path))
    return came


def main() -> int:
    """Play the one that is named, and print what came of it."""
    print(json.dumps(asdict(run(BY_NAME[sys.argv[1]], Path(sys.argv[2])))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
