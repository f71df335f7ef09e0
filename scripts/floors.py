"""Checks that the tests reach enough of each room; run after `scripts/test.py --cov`.

A share is lines and branches together, in processes of their own too. The rooms on which somebody's
output transistors hang stand near the top; the others are reached by whole runs of the program.
"""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

# Per cent, by path below benchlog/: the longest path that fits a file counts.
FLOORS = {
    "": 90,
    "alarm": 85,
    "commands": 80,
    "domain": 98,
    "electronics": 95,
    "instruments": 92,
    "recorder": 90,
    "simbench": 85,
    "store": 95,
    "window": 85,
}


def shares(report: dict[str, dict[str, dict[str, dict[str, int]]]]) -> dict[str, float]:
    """Give the reached share of each row of the table, in per cent, from coverage's JSON report."""
    reached = dict.fromkeys(FLOORS, 0)
    all_there = dict.fromkeys(FLOORS, 0)
    for name, file in report["files"].items():
        place = Path(name).as_posix().removeprefix("benchlog/")
        row = max((one for one in FLOORS if f"{place}/".startswith(f"{one}/") or not one), key=len)
        summary = file["summary"]
        reached[row] += summary["covered_lines"] + summary["covered_branches"]
        all_there[row] += summary["num_statements"] + summary["num_branches"]
    return {row: 100 * reached[row] / all_there[row] for row in FLOORS if all_there[row]}


def main() -> int:
    """Print the table; 1 where a room lies below its floor or nothing was measured."""
    command = [sys.executable, "-m", "coverage", "json", "--quiet", "-o", "-"]
    answer = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if answer.returncode:
        print(
            f"{answer.stdout}{answer.stderr}Nothing was measured: run `python3 scripts/test.py --cov` first."
        )
        return 1
    low = False
    for row, share in shares(json.loads(answer.stdout)).items():
        below = share < FLOORS[row]
        low = low or below
        print(
            f"  {row or '(top level)':<14} {share:6.1f} %  floor {FLOORS[row]} %{'  BELOW' if below else ''}"
        )
    return 1 if low else 0


if __name__ == "__main__":
    sys.exit(main())
