"""`benchlog demo --headless`: the whole job on a simulated bench, the person's part played as well.

Takes the parts of the example into a round, then runs its power-up to the end or into a trip. Nothing
here knows which fault plays: the name goes to the simulated bench and nowhere else.
"""

import argparse
import sys
from pathlib import Path
from typing import Any

import msgspec

from benchlog import resources, textfile
from benchlog.commands.account import account, in_words, only_by_hand, status, swept_in_words
from benchlog.commands.bench_and_visit import open_bench
from benchlog.commands.conduct import Conductor, Course, Ear
from benchlog.commands.demo_options import add_arguments, library_of, speed_of
from benchlog.commands.parts_round import PartsRound, Result, counted
from benchlog.commands.simulated import Simulated
from benchlog.commands.terminal import say, show_json, show_text
from benchlog.domain.cold_checks import told
from benchlog.domain.plan import Plan
from benchlog.domain.unit import RoundKind, UnitFile
from benchlog.instruments import bench as benches
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.window.unit_acts import take_in

__all__ = ["add_arguments", "run"]

PARTS_METER = "parts meter"
SPEED = 10.0


def run(args: argparse.Namespace) -> int:
    """Play the whole job; 0 done, 3 tripped, 4 ended by the operator."""
    speed = speed_of(args, SPEED)
    folder = library_of(args)
    tell = _Quiet() if args.json else _Loud()
    if not (args.headless or args.json):
        # With a display another file would have been loaded.
        tell.line("There is no display here, so the demo runs without a window and plays the person as well.")
    ear = Ear(show_json if args.json else show_text)
    with Library.open(folder) as library:
        for sentence in swept_in_words(library.swept):
            tell.line(sentence)
        witness = library.folder / "witness.jsonl"
        thinned = not args.full_witness
        with Simulated(args.example, args.fault, speed, witness, thinned=thinned) as simulated:
            demo = _Demo(library, simulated, ear, tell, args.example)
            course, results = demo.play()
        found: dict[str, Any] = {"parts": len({r.designator for r in results}), "verdicts": counted(results)}
        found |= account(course, by_hand=only_by_hand(demo.bench))
        found |= {"library": str(library.folder), "witness": str(witness)}
    if args.json:
        say(msgspec.json.encode({"is": "summary", **found}).decode())
    else:
        verdicts = ", ".join(f"{n} {verdict}" for verdict, n in found["verdicts"].items())
        say("")
        say(f"{found['parts']} parts read: {verdicts}.")
        for line in in_words(found):
            say(line)
        say(f"Library: {found['library']}")
    return status(found)


class _Loud:
    """Tells a person what happens."""

    def line(self, text: str) -> None:
        """Say one line."""
        say(text)

    def result(self, result: Result) -> None:
        """Say what one part read."""
        read = f"{result.designator:<8} {result.should_read:>16}  {result.read:>10}"
        say(f"  {read}  {result.judgement.verdict.value:<14} {result.judgement.reason}")


class _Quiet:
    """Tells parts as JSON, the rest not at all."""

    def line(self, text: str) -> None:
        """Say nothing on standard output."""
        sys.stderr.write(f"{text}\n")

    def result(self, result: Result) -> None:
        """One part as a JSON object."""
        body = {
            "is": "part",
            "designator": result.designator,
            "should_read": result.should_read,
            "value": result.reading.value,
            "unit": result.reading.unit,
            "verdict": result.judgement.verdict.value,
            "reason": result.judgement.reason,
            "rule": result.judgement.rule.value,
        }
        say(msgspec.json.encode(body).decode())


class _Demo:
    """One demo from intake to the end of the power-up."""

    def __init__(
        self, library: Library, simulated: Simulated, ear: Ear, tell: _Loud | _Quiet, example: str
    ) -> None:
        self._library = library
        self._simulated = simulated
        self._ear = ear
        self._tell = tell
        self._folder = resources.path("examples", example)
        self._bench_text = simulated.bench_of(example)
        self.bench = benches.parse(self._bench_text, "bench.toml")

    def play(self) -> tuple[Course, list[Result]]:
        """Intake, the parts, the power-up."""
        entry = textfile.read(self._folder / "unit.toml", UnitFile)
        taken = take_in(self._library, entry)
        unit = taken.unit
        visit = taken.visit or edit.open_visit(self._library, unit.id, entry.complaint, entry.mains)
        if taken.known:
            self._tell.line(f"{unit.name} is known from an earlier demo.")
        if taken.round is not None:
            edit.end_round(self._library, taken.round.id)
        self._tell.line(f"{unit.name}, {visit.label}: {visit.complaint}")
        player = [sys.executable, "-m", "benchlog.simbench.ear", self._simulated.control]
        with Recorder.start(on_message=self._ear.hear, player=player) as recorder:
            open_bench(recorder, self._bench_text, "bench.toml", [], self._simulated.speed)
            pass_ = edit.start_round(self._library, visit.id, RoundKind.AS_FOUND)
            round_ = PartsRound(
                self._library,
                recorder,
                self._ear,
                job=PARTS_METER,
                probe=self._simulated.hands.probe,
                # A simulated board has stood without power for years.
                dead_board=True,
            )
            results = []
            for result in round_.take_all(unit, pass_):
                results.append(result)
                self._tell.result(result)
            edit.end_round(self._library, pass_.id)
            course = self._power_up(recorder, unit.id, visit.id)
        if course.closed is not None:
            edit.put_session_in_index(self._library, Path(course.closed.path))
        return course, results

    def _power_up(self, recorder: Recorder, unit: str, visit: str) -> Course:
        plan = (self._folder / "plan.toml").read_text(encoding="utf-8")
        said = recorder.request(messages.LoadPlan(id=0, text=plan, place="plan.toml"))
        for sentence in said["sentences"]:
            self._tell.line(f"   {sentence}")
        conductor = Conductor(recorder, self._ear, self._simulated.hands)
        # The person of the demo has made them all: its unit is as healthy as its maker says.
        cold = [told(check, yes=True) for check in textfile.parse(plan, "plan.toml", Plan).cold_checks]
        return conductor.run(str(self._library.sessions), unit=unit, visit=visit, cold=cold)
