"""Runs the tests: `python3 scripts/test.py`, nothing to install beforehand.

What follows on the command line goes to pytest: `python3 scripts/test.py tests/domain -k marking`. The whole suite
runs in three processes: one for what works against real time, which mostly waits, and two for the rest, which give way.
"""

from __future__ import annotations

import os
import sys

import environment


def main() -> None:
    """Set up, then become pytest in the checkout's folder."""
    python = environment.prepare()
    os.chdir(environment.ROOT)
    chosen = sys.argv[1:]
    whole = all(argument.startswith("--cov") for argument in chosen)
    spread = ["-n", "3", "--dist", "loadscope"] if whole else []
    environment.become([python, "-m", "pytest", *spread, *chosen])


if __name__ == "__main__":
    main()
