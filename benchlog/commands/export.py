"""A run, or several, as CSV with their conditions at the head: `benchlog export 3f2a -o run.csv`."""

import argparse
import sys
from pathlib import Path

from benchlog import folders
from benchlog.errors import BadInput
from benchlog.store import query, run_csv
from benchlog.store.run_csv import Progress


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own options."""
    parser.add_argument(
        "session", metavar="SESSION", nargs="+", help="a run, by its id or the name of its file"
    )
    parser.add_argument(
        "-o", dest="out", type=Path, required=True, metavar="FILE", help="where to; of several runs a folder"
    )


def run(args: argparse.Namespace) -> int:
    """Write every reading, event and note; what is there already is never overwritten."""
    library = folders.library(args.library)
    sessions = [query.find_session(library, wanted) for wanted in args.session]
    if len(sessions) == 1 and not args.out.is_dir():
        if not args.out.parent.is_dir():
            raise BadInput(
                str(args.out), "lies in a folder that is not there", "make it first, or name another"
            )
        run_csv.write(library, sessions[0], args.out, Progress())
        print(args.out)
    else:
        if args.out.is_file():
            raise BadInput(str(args.out), "is a file, and several runs go to a folder", "name a folder")
        run_csv.write_each(library, sessions, args.out, Progress())
    sys.stdout.flush()
    return 0
