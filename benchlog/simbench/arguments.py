"""What the simulated bench can be told on its command line, here and as `benchlog simulate`."""

import argparse
import math
from pathlib import Path

from benchlog.errors import BadInput
from benchlog.simbench import truth


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    parser.add_argument("--example", default="amplifier", metavar="NAME", help=", ".join(truth.EXAMPLES))
    parser.add_argument("--fault", default="healthy", metavar="NAME", help="what is wrong with the unit")
    parser.add_argument("--speed", type=float, default=1.0, metavar="X", help="plan seconds in a real one")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another noise, another hand")
    parser.add_argument("--witness", type=Path, metavar="FILE", help="where to write what it saw; else here")
    parser.add_argument(
        "--thinned", action="store_true", help="leave out most readings but those that led to an off"
    )
    parser.add_argument("--bench", type=Path, metavar="FILE", help="also write a bench file to connect with")
    parser.add_argument(
        "--delay", type=float, metavar="S", help="real seconds a network meter takes; else as in life"
    )
    parser.add_argument("--sockets", action="store_true", help="TCP ports in place of pseudo-terminals")
    parser.add_argument(
        "--played",
        action="store_true",
        help="a person plays at a panel: nobody switches off at an alarm by himself",
    )
    parser.add_argument("--until-eof", action="store_true", help="end when standard input ends")


def check(args: argparse.Namespace) -> None:
    """Refuse numbers that mean nothing; BadInput."""
    if not (math.isfinite(args.speed) and 0.01 <= args.speed <= 100.0):
        raise BadInput("--speed", f"{args.speed} is out of range", "give a number from 0.01 to 100")
    if args.delay is not None and not 0.0 <= args.delay <= 60.0:
        raise BadInput("--delay", f"{args.delay} is out of range", "give seconds from 0 to 60")
