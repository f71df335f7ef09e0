"""Measures benchlog: `python3 scripts/benchmark.py [ROW ...]`, nothing to install beforehand.

`--help` names the rows. Each is printed as it comes, with its goal, its rival and whether the goal is met;
`--quick` does a tenth of everything, `--long` a whole simulated day as well, `--json` prints objects.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import sys
from pathlib import Path

import environment

NEEDED = ("benchlog", "msgspec", "pyvisa", "pyvisa_py")


def main() -> None:
    """Become the benchmark in an environment that has what it needs, this one where it does."""
    python = sys.executable
    if not all(importlib.util.find_spec(name) for name in NEEDED):
        # What setting up says is no part of the table.
        with contextlib.redirect_stdout(sys.stderr):
            python = environment.prepare()
    scripts = Path(__file__).resolve().parent
    # The fault signatures are a table of the tests.
    paths = [str(scripts), str(scripts.parent / "tests"), os.environ.get("PYTHONPATH", "")]
    found = dict(os.environ, PYTHONPATH=os.pathsep.join(filter(None, paths)))
    environment.become([python, "-m", "measure", *sys.argv[1:]], found)


if __name__ == "__main__":
    main()
