"""`python -m benchlog.simbench`: a simulated bench of its own."""

import argparse
import sys

from benchlog.errors import BenchlogError
from benchlog.simbench import arguments, program

BAD_INPUT = 2


def main() -> int:
    """Run it and give the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m benchlog.simbench", description=__doc__, allow_abbrev=False
    )
    arguments.add_arguments(parser)
    try:
        return program.run(parser.parse_args())
    except BenchlogError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT


if __name__ == "__main__":
    sys.exit(main())
