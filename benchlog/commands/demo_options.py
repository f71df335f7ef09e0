"""What the demo can be told, with and without its window."""

import argparse
import math
from pathlib import Path

from benchlog import folders
from benchlog.errors import BadInput, Full
from benchlog.simbench import truth

EXAMPLES = ("amplifier", "by-hand", "lamp-ladder", "board")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the options of both."""
    parser.add_argument("--headless", action="store_true", help="without a window, the person played as well")
    parser.add_argument("--example", choices=EXAMPLES, default="amplifier", help="which bench to simulate")
    parser.add_argument("--fault", default="healthy", metavar="NAME", help="what is wrong with the unit")
    parser.add_argument(
        "--speed", type=float, metavar="X", help="plan seconds in a real one; else 1, without a window 10"
    )
    parser.add_argument(
        "--full-witness",
        action="store_true",
        help="have the simulated bench write every reading it sent; else those that led to an off, few of the others",
    )
    parser.add_argument(
        "--json", action="store_true", help="no window; print every event as a JSON object, one a line"
    )


def speed_of(args: argparse.Namespace, usual: float) -> float:
    """The speed asked for, else the usual one; BadInput where that, or a name, means nothing."""
    speed = usual if args.speed is None else float(args.speed)
    if not (math.isfinite(speed) and 0.1 <= speed <= 100.0):
        raise BadInput("--speed", f"{speed:g} is out of range", "give a number from 0.1 to 100")
    truth.check_names(args.example, args.fault)
    return speed


def library_of(args: argparse.Namespace) -> Path:
    """The library's folder, made where it is missing: the one named, else the demo's own, the same each time."""
    folder = folders.demo_library(args.library)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Full(str(folder), f"cannot be made ({error.strerror})", "name another folder") from error
    return folder
