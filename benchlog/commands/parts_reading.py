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
from benchlog.commands.bench_and_visit import open_bench, visit_of
from benchlog.commands.conduct import Ear
from benchlog.commands.parts_round import PartsRound, Result, counted, paired
from benchlog.commands.terminal import say, say_aside
from benchlog.domain.designator import Mirror
from benchlog.domain.partsorder import Order
from benchlog.domain.partsought import line_of, sought
from benchlog.domain.unit import Round, RoundKind, Unit, Visit
from benchlog.errors import BadInput
from benchlog.instruments import bench as benches
from benchlog.instruments.bench import Bench
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import query_unit, rounds
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
        "--find",
        default="",
        metavar="WORDS",
        help="only parts that these words find, such as 'electrolytics left' or R301-R348; with --round kept with it",
    )
    parser.add_argument(
        "--order",
        default="",
        choices=["", *Order],
        help="in pairs where nothing else is said; with --round kept with it",
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
        known = _ordered(folder, unit, args.order)
        found = _found(known, args.find)
        pass_ = _round(library, visit, args, found)
        planned = rounds.planned(folder, pass_.id)
        lines = _left(folder, pass_, _as_planned(known, planned) if planned else found)
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


def _round(library: Library, visit: Visit, args: argparse.Namespace, found: list[PartLine]) -> Round:
    """The round under way, or a new one over what was found where that was asked for."""
    known = query_unit.rounds(library.folder, visit.id)
    under_way = next((one for one in reversed(known) if one.ended is None), None)
    if under_way is not None and not args.round:
        return under_way
    kind = RoundKind(args.round or RoundKind.AS_FOUND)
    title = ", ".join(filter(None, (args.find, args.order)))
    parts = list(dict.fromkeys(line.part.id for line in found)) if title else ()
    return rounds.begin(library, visit.id, kind, under_way, title, parts)


def _ordered(folder: Path, unit: Unit, order: str) -> list[PartLine]:
    """Every measure of a unit's parts in an order; in pairs where none was asked for."""
    known = list(query_unit.parts(folder, unit.id))
    if order == Order.LISTED:
        rank = {part: at for at, part in enumerate(rounds.listed(folder, unit.id))}
        return sorted(known, key=lambda line: rank[line.part.id])
    return known if order == Order.NATURAL else paired(known, Mirror(unit.mirror, unit.pairs))


def _found(lines: list[PartLine], words: str) -> list[PartLine]:
    """Those that words find; results are none yet for a round that begins."""
    wanted = sought(words)
    return [line for line in lines if wanted.fits(_words_of(line), line.part.designator)]


def _words_of(line: PartLine) -> str:
    should = line.should_read.text if line.should_read is not None else ""
    texts = (line.part.kind.replace("_", " "), should, line.fitted.marking, line.board.name, line.part.note)
    return line_of(line.designator, *texts, read=False, paired=False)


def _as_planned(lines: list[PartLine], planned: tuple[str, ...]) -> list[PartLine]:
    """The measures of a round's own parts, in its order."""
    rank = {part: at for at, part in enumerate(planned)}
    return sorted((line for line in lines if line.part.id in rank), key=lambda line: rank[line.part.id])


def _left(folder: Path, pass_: Round, lines: list[PartLine]) -> list[PartLine]:
    """Those that the round has no reading of."""
    kept = [one.reading for one in query_unit.round_results(folder, pass_.id) if not one.withdrawn]
    read = {(one.fitted, one.measure) for one in kept}
    return [line for line in lines if (line.fitted.id, line.measure.word) not in read]


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
