"""The runs of a library, newest first, narrowed by words: `benchlog sessions hall tripped march`."""

import argparse
import json
import sys
from datetime import UTC, datetime

from benchlog import folders
from benchlog.domain.sought import Finder
from benchlog.store import query
from benchlog.store.records import SessionLine, State
from benchlog.store.run_facts import RunFacts, findables, run_facts


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own options."""
    parser.add_argument(
        "word",
        nargs="*",
        metavar="WORD",
        help="only runs in which each word stands: a unit, visit, board, part, plan, how it ended, a day, a note",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def run(args: argparse.Namespace) -> int:
    """List them; what was understood of the words goes to standard error."""
    library = folders.library(args.library)
    lines, facts = query.sessions(library), run_facts(library)
    today = datetime.now(UTC).astimezone().date()
    found = Finder(findables([(line, _ending(line)) for line in lines], facts)).find(
        " ".join(args.word), today
    )
    if found.says:
        print(found.says, file=sys.stderr)
    for place in found.places:
        line = lines[place]
        print(json.dumps(_object(line, facts)) if args.json else _told(line, facts))
    return 0


def _ending(line: SessionLine) -> str:
    return line.outcome if line.state is State.CLOSED else str(line.state)


def _unit(line: SessionLine, facts: RunFacts) -> str:
    return facts.units[line.unit].name if line.unit in facts.units else ""


def _told(line: SessionLine, facts: RunFacts) -> str:
    reference = "reference" if line.id in facts.chosen else ""
    parts = (line.file.stem, _ending(line), _unit(line, facts), line.plan_name or line.title, reference)
    return "  ".join(filter(None, (*parts, line.reason or line.problem)))


def _object(line: SessionLine, facts: RunFacts) -> dict[str, object]:
    return {
        "id": line.id,
        "file": line.file.name,
        "started": line.started,
        "ended": line.ended,
        "state": line.state,
        "outcome": line.outcome,
        "reason": line.reason,
        "unit": _unit(line, facts),
        "visit": facts.visits.get(line.visit),
        "plan": line.plan_name,
        "readings": line.readings,
        "off": line.off,
        "reference": line.id in facts.chosen,
        "problem": line.problem,
    }
