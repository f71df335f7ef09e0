"""`benchlog parts read`: the parts of a unit taken with a walking meter, a person at the probes.

Each part is named and taken when Enter is pressed; what was read before in the round that is under way is not
taken again, so that a round goes on where it stopped.
"""

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

from benchlog import folders, textfile
from benchlog.commands.conduct import Ear
from benchlog.commands.parts_round import PartsRound, Result, counted
from benchlog.commands.powerup import open_bench, visit_of
from benchlog.commands.terminal import say, say_aside
from benchlog.domain.unit import Round, RoundKind, Visit
from benchlog.errors import BadInput
from benchlog.instruments import bench as benches
from benchlog.instruments.bench import Bench
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import edit, query_unit
from benchlog.store.library import Library
from benchlog.store.query_unit import PartLine

DONE, ENDED_BY_OPERATOR = 0, 4


class _Ended(Exception):
    """The person pressed q, or nobody is there any more."""


def add_reading_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the options of `parts read`."""
    parser.add_argument("--bench", type=Path, required=True, metavar="BENCH", help="the bench, a TOML file")
    parser.add_argument(
        "--meter", default="", metavar="JOB", help="which walking meter, where there are several"
    )
    parser.add_argument("--round", default="", choices=["", *RoundKind], help="begin a round of this kind")
    parser.add_argument(
        "--boards-dead", action="store_true", help="the boards were measured and found without charge"
    )
    parser.add_argument(
        "--word", action="append", default=[], help="only parts in whose line each word stands"
    )


def read_parts(args: argparse.Namespace) -> int:
    """Take the parts one after the other; 0 when all are read, 4 when the person ended it before."""
    folder = folders.library(args.library)
    text = textfile.read_text(args.bench)
    profiles = [folder / "profiles"]
    job = _walking(benches.parse(text, args.bench.name, profiles), args.meter)
    ear = Ear(_not_shown)
    with Library.open(folder) as library:
        unit = query_unit.find_unit(folder, args.unit)
        visit = visit_of(library, unit.id)
        assert visit is not None  # noqa: S101 - a unit was named
        pass_ = _round(library, visit, args.round)
        lines = _left(folder, unit.id, pass_.id, args.word)
        hands = _Hands(lines, say_aside if args.json else say, sys.stdin)
        results: list[Result] = []
        with Recorder.start(on_message=ear.hear) as recorder:
            open_bench(recorder, text, args.bench.name, profiles)
            dead = True if args.boards_dead else None
            taking = PartsRound(library, recorder, ear, job=job, probe=hands.probe, dead_board=dead)
            try:
                for result in taking.take_all(unit, pass_, lines):
                    results.append(result)
                    _tell(result, as_json=args.json)
            except _Ended:
                _sum_up(results, as_json=args.json)
                return ENDED_BY_OPERATOR
        _sum_up(results, as_json=args.json)
    return DONE


def _walking(bench: Bench, wanted: str) -> str:
    """The job of the walking meter to take with."""
    jobs = [one.job for one in bench.meter if one.function is None]
    if (wanted and wanted not in jobs) or not jobs:
        raise BadInput(
            f'"{wanted}"' if wanted else "the bench",
            "is no walking meter of this bench" if wanted else "has no walking meter",
            f"there are: {', '.join(jobs)}" if jobs else "leave the function of one meter out",
        )
    return wanted or jobs[0]


def _round(library: Library, visit: Visit, kind: str) -> Round:
    """The round under way, or a new one."""
    known = query_unit.rounds(library.folder, visit.id)
    under_way = next((one for one in reversed(known) if one.ended is None), None)
    if under_way is not None and not kind:
        return under_way
    with library.act(f"begin a round {kind or RoundKind.AS_FOUND}"):
        if under_way is not None:
            edit.end_round(library, under_way.id)
        return edit.start_round(library, visit.id, RoundKind(kind or RoundKind.AS_FOUND))


def _left(folder: Path, unit: str, pass_: str, words: list[str]) -> list[PartLine]:
    """The parts that are to be read, in their order."""
    kept = [one.reading for one in query_unit.round_results(folder, pass_) if not one.withdrawn]
    read = {(one.fitted, one.measure) for one in kept}
    known = query_unit.parts(folder, unit)
    lines = [line for line in known if (line.fitted.id, line.measure.word) not in read]
    wanted = [word.casefold() for word in words]
    return [line for line in lines if all(word in _said(line).casefold() for word in wanted)]


def _said(line: PartLine) -> str:
    should = line.should_read.text if line.should_read is not None else ""
    return f"{line.designator} {line.part.kind.replace('_', ' ')} {should} {line.fitted.marking} {line.board.name}"


class _Hands:
    """A person with the probes: names the part, and waits for Enter."""

    def __init__(self, lines: list[PartLine], tell: Callable[[str], None], typed: TextIO) -> None:
        self._of = {line.designator: line for line in lines}
        self._tell = tell
        self._typed = typed

    def probe(self, designator: str, way: str) -> None:
        """Ask for the probes on a part; `reverse` with the leads turned round."""
        line = self._of.get(designator)
        said = line.should_read if line is not None else None
        should = f", should read {said.text}" if said is not None else ""
        turned = ", leads turned round" if way == "reverse" else ""
        self._tell(f"> {designator}{turned}{should}  [Enter: take it, q: end]")
        answer = self._typed.readline()
        if not answer or answer.strip().casefold() in {"q", "quit", "end"}:
            raise _Ended


def _tell(result: Result, *, as_json: bool) -> None:
    judged = result.judgement
    if as_json:
        made = {
            "designator": result.designator,
            "value": result.reading.value,
            "unit": result.reading.unit,
            "outcome": result.reading.outcome,
            "verdict": judged.verdict,
            "reason": judged.reason,
        }
        say(json.dumps(made, ensure_ascii=False))
        return
    say(f"{result.designator}: {result.read}, {judged.verdict}. {judged.reason}")


def _sum_up(results: list[Result], *, as_json: bool) -> None:
    if not as_json:
        said = ", ".join(f"{count} {verdict}" for verdict, count in counted(results).items())
        say(f"{said or 'nothing was read'}.")


def _not_shown(_: messages.Message) -> None:
    """What the recorder says besides is not for a person at the probes."""
