"""`benchlog powerup`: a staged power-up by a person's own plan and bench, from a terminal."""

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import msgspec

from benchlog import folders, textfile
from benchlog.commands import six_numbers
from benchlog.commands.account import account, in_words, only_by_hand, status, swept_in_words
from benchlog.commands.bench_and_visit import open_bench, visit_of
from benchlog.commands.cold_asked import ask_cold, ask_stays
from benchlog.commands.conduct import Conductor, Ear
from benchlog.commands.terminal import Terminal, say, say_aside, show_json, show_text
from benchlog.domain.plan import Plan
from benchlog.domain.putback import before_power
from benchlog.domain.unit import Visit
from benchlog.errors import BadInput, Fault
from benchlog.instruments import bench as benches
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import cold_readings, edit, good_run, idle_marks, query, query_unit
from benchlog.store.library import Library
from benchlog.store.records import Ending

T = TypeVar("T")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own options."""
    parser.add_argument("plan", type=Path, help="the plan, a TOML file")
    parser.add_argument("--bench", type=Path, required=True, metavar="BENCH", help="the bench, a TOML file")
    parser.add_argument(
        "--unit", default="", metavar="NAME", help="the unit of the library that it belongs to"
    )
    parser.add_argument(
        "--yes",
        action="store_true",
        help="go up by itself whenever the next stage is offered, with nobody to type; a prompt that needs a "
        "person is answered no where standard input has ended, and the run goes off. Cold checks that no reading "
        "of the visit tells of are overridden, and kept as overridden. Without --yes the run goes off as soon as "
        "standard input ends",
    )
    parser.add_argument(
        "--again",
        metavar="CAUSE",
        help="the last run of this library tripped, and CAUSE is what tripped it: go up again, with short dwells "
        "below the stage it had reached",
    )
    parser.add_argument(
        "--alone",
        action="store_true",
        help="nobody stays with it: refused where a hand is all there is to switch off with",
    )
    six_numbers.add_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print every event as a JSON object, one a line")


def run(args: argparse.Namespace) -> int:
    """Power the unit up; 0 done, 3 tripped, 4 ended by the operator."""
    folder = args.library or folders.library()
    profiles = [folder / "profiles"]
    if args.make is not None:
        six_numbers.make(args.make, args.plan, args.bench, profiles, args.supply)
    plan, bench = textfile.read_text(args.plan), textfile.read_text(args.bench)
    by_hand = check_files(plan, args.plan.name, bench, args.bench.name, profiles, by_itself=args.yes)
    ear = Ear(show_json if args.json else show_text)
    aside = say_aside if args.json else say
    with Library.open(folder) as library:
        for sentence in swept_in_words(library.swept):
            aside(sentence)
        again = tripped_last(folder) if args.again is not None else ""
        visit = visit_of(library, args.unit)
        with Recorder.start(on_message=ear.hear) as recorder:
            open_bench(recorder, bench, args.bench.name, profiles)
            said = recorder.request(
                messages.LoadPlan(
                    id=0,
                    text=plan,
                    place=args.plan.name,
                    reference=good_run.of_text(folder, visit.unit, plan) if visit else None,
                )
            )
            if not args.json:
                for sentence in (*said["sentences"], *still_open(folder, visit)):
                    say(f"   {sentence}")
            planned = textfile.parse(plan, args.plan.name, Plan)
            read = cold_readings.taken_in(folder, visit.id) if visit else ()
            cold = ask_cold(planned, read, by_itself=args.yes, lines=sys.stdin, tell=aside)
            alone = ask_stays(planned, by_itself=args.yes, alone=args.alone, lines=sys.stdin, tell=aside)
            conductor = Conductor(recorder, ear, Terminal(by_itself=args.yes, tell=aside))
            course = conductor.run(
                str(library.sessions),
                unit=visit.unit if visit else "",
                visit=visit.id if visit else "",
                again=again,
                cause=args.again or "",
                idle_set=idle_marks.set_in(folder, visit.id) if visit else (),
                cold=cold,
                alone=alone,
            )
        if course.closed is not None:
            edit.put_session_in_index(library, Path(course.closed.path))
    found = account(course, by_hand=by_hand)
    if args.json:
        say(msgspec.json.encode({"is": "summary", **found}).decode())
    else:
        for line in in_words(found):
            say(line)
    return status(found)


def check_files(
    plan: str, plan_name: str, bench: str, bench_name: str, profiles: list[Path], *, by_itself: bool
) -> bool:
    """Every fault of both files at once, before anything is opened; whether only a hand can switch off."""
    faults: list[Fault] = []
    parsed_bench = _parsed(lambda: benches.parse(bench, bench_name, profiles), faults)
    _parsed(lambda: textfile.parse(plan, plan_name, Plan), faults)
    by_hand = parsed_bench is not None and only_by_hand(parsed_bench)
    if by_itself and by_hand:
        fix = "stay with it and leave --yes out, or add a supply or a relay"
        faults.append(Fault("--yes", "a hand is the only off-switch of this bench", fix))
    if faults:
        raise BadInput.of(faults)
    return by_hand


def _parsed(parse: Callable[[], T], faults: list[Fault]) -> T | None:
    try:
        return parse()
    except BadInput as error:
        faults.extend(error.faults)
        return None


def tripped_last(folder: Path) -> str:
    """The file of the library's last run; BadInput where it did not trip."""
    last = next(iter(query.sessions(folder)), None)
    if last is None or last.outcome != Ending.TRIPPED:
        raise BadInput("--again", "the last run of this library did not trip", "leave it out")
    return str(last.file)


def still_open(folder: Path, visit: Visit | None) -> tuple[str, ...]:
    """What the unit has on its open list, a sentence each; nothing where no unit was named."""
    items = query_unit.still_open(folder, visit.unit) if visit is not None else ()
    return before_power((item.kind, item.text) for item in items)
