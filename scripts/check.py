"""Checks the code without running the program: `python3 scripts/check.py`, nothing to install beforehand.

Style, types, walls between the rooms, sizes; and, with --floors after `python3 scripts/test.py --cov`, what
takes longer: that each wall can fail, and whether the tests reach enough of each room. Each check shows one
line; what it has to say follows only where it fails. Exit status 1 where any does.
"""

from __future__ import annotations

import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import environment

AT_A_TIME = 2
LINT_IMPORTS = "from importlinter.cli import lint_imports_command as run; run()"


def checks(python: str, floors: bool) -> list[tuple[str, list[str]]]:
    """Give each check as its name and command line."""
    scripts = environment.ROOT / "scripts"

    def own(name: str) -> list[str]:
        return [python, "-B", str(scripts / name)]

    listed = [
        ("style", [python, "-m", "ruff", "check", "--quiet", "."]),
        ("format", [python, "-m", "ruff", "format", "--check", "--quiet", "."]),
        ("types", [python, "-m", "mypy", "--no-error-summary"]),
        (
            "walls: imports point down",
            [python, "-c", LINT_IMPORTS],
        ),
        ("walls: names from outside", own("walls.py")),
        ("sizes", own("sizes.py")),
    ]
    longer = [("walls: each one can fail", own("breaches.py")), ("floors", own("floors.py"))]
    return [*listed, *longer] if floors else listed


def run(named: tuple[str, list[str]]) -> tuple[str, bool, str, float]:
    """Run one check and give its name, whether it passed, what it said, and its seconds."""
    name, command = named
    begun = time.monotonic()
    done = subprocess.run(
        command,
        cwd=environment.ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        check=False,
    )
    said = done.stdout.decode("utf-8", "replace").strip()
    return name, done.returncode == 0, said, time.monotonic() - begun


def main() -> int:
    """Set up, run every check, and tell which failed."""
    floors = "--floors" in sys.argv[1:]
    python = environment.prepare()
    failed = []
    with ThreadPoolExecutor(AT_A_TIME) as pool:
        for name, passed, said, seconds in pool.map(run, checks(python, floors)):
            environment.say(f"{'ok    ' if passed else 'FAILED'} {name} ({seconds:.0f} s)")
            if not passed:
                failed.append(name)
            # The floors are worth seeing while they hold, too.
            if said and (not passed or name == "floors"):
                environment.say(said)
    if failed:
        environment.say(f"Checks that failed: {', '.join(failed)}.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
