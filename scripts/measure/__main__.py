"""The benchmark itself: `python -m measure`, started by `scripts/benchmark.py` in the right environment."""

import argparse
import os
import platform
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

from measure import table
from measure.processes import environment
from measure.rows import ROWS, chosen
from measure.terms import Terms


def main() -> int:
    """Run the rows asked for, each printed as it comes; 0 whatever was met."""
    args = arguments(sys.argv[1:])
    lines: list[table.Line] = []
    with tempfile.TemporaryDirectory(prefix="benchlog-benchmark-", dir=args.folder) as made:
        home = Path(made)
        os.environ.update(environment(home))
        if not args.json:
            _say(f"{_machine()}; files in {home.parent}; load {_load()}")
            _say(table.head())
        for name, row in chosen(args.rows).items():
            begun = time.monotonic()
            folder = home / name
            folder.mkdir()
            for line in row(Terms(folder, quick=args.quick, long=args.long)):
                lines.append(line)
                _say(table.as_json(name, line) if args.json else table.shown(line))
            if not args.json:
                _say(f"    [{name}: {time.monotonic() - begun:.0f} s, load {_load()}]")
    if not args.json:
        _say(table.summary(lines))
    return 0


def arguments(given: list[str]) -> argparse.Namespace:
    """What was asked for; ends the program where it cannot be understood."""
    rows = "\n".join(f"  {name:<10} {about}" for name, (_, about) in ROWS.items())
    parser = argparse.ArgumentParser(
        prog="benchmark.py",
        description="Measures benchlog against its goals and against bare rivals.",
        epilog=f"rows, all where none is named:\n{rows}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("rows", nargs="*", metavar="ROW", help="rows by name")
    parser.add_argument("--quick", action="store_true", help="a tenth of everything")
    parser.add_argument("--long", action="store_true", help="also a whole simulated day")
    parser.add_argument("--json", action="store_true", help="print each line as a JSON object")
    parser.add_argument(
        "--folder", type=Path, help="where files are written meanwhile: it is that disk's flush"
    )
    args = parser.parse_args(given)
    unknown = [name for name in args.rows if name not in ROWS]
    if unknown:
        parser.error(f"there is no row {unknown[0]!r}; there are {', '.join(ROWS)}")
    return args


def _machine() -> str:
    python = f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    return f"{platform.system()} {platform.release()}, {os.cpu_count()} cores, {python}"


def _load() -> str:
    """Processes that want to run, of the last minute: far above what the rows start, figures mean little."""
    return f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"


def _say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
