"""`--make`: the plan of a power-up made from six numbers at the command line, kept where the plan was named."""

import argparse
from collections.abc import Sequence
from pathlib import Path

from benchlog import textfile
from benchlog.domain import plan_templates
from benchlog.domain.sixtyped import KINDS, Field, kind_of, read_six
from benchlog.errors import BadInput, Full
from benchlog.instruments import bench as benches


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the option."""
    kinds = ", ".join(f"{at} {kind.name.lower()}" for at, kind in enumerate(KINDS, start=1))
    parser.add_argument(
        "--make",
        nargs=1 + len(Field),
        default=None,
        metavar=("KIND", "MAINS", "RAIL", "CHANNELS", "IDLE", "ACROSS", "LAMP"),
        help=f"make PLAN first, of what is known of the unit, with the meters that the bench has: KIND is {kinds}; "
        "RAIL as in +/-44 or +35, IDLE in mV, ACROSS in ohm, LAMP in W, as in --make 2 230 +/-44 2 16.5 0.33 100. "
        "A file that is there already is never written over",
    )
    parser.add_argument("--supply", metavar="JOB", default="", help="which supply feeds a board, for --make")


def make(numbers: Sequence[str], plan: Path, bench: Path, profiles: Sequence[Path], supply: str = "") -> None:
    """Write the plan; BadInput names every number that cannot be, Full says where there is no room."""
    kind = kind_of(numbers[0])
    parsed = benches.parse(textfile.read_text(bench), bench.name, profiles)
    meters = benches.clipped(benches.meters_at_hand(parsed, profiles))
    six = read_six(kind, dict(zip(Field, numbers[1:], strict=True)), meters)
    fed = _supply(parsed, supply) if kind.template.by_supply else ""
    switch = benches.switched_by(parsed) or plan_templates.WALL
    text = textfile.write(plan_templates.plan(kind.template, six, fed, switch))
    try:
        with plan.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise BadInput(str(plan), "is there already", "leave --make out to run it, or name another") from None
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        raise Full(str(plan), problem, "look at the folder and the room left") from None


def _supply(bench: benches.Bench, named: str) -> str:
    """The supply that feeds the board: the one named, else the only one; BadInput where that is none, or several."""
    jobs = [entry.job for entry in bench.supply]
    known = f"the bench has {', '.join(jobs) or 'none'}"
    if named and named not in jobs:
        raise BadInput("--supply", f'there is no "{named}"', known)
    if not named and len(jobs) > 1:
        raise BadInput("--supply", "is missing, and any of several may feed the board", known)
    return named or benches.feeds_board(bench)
