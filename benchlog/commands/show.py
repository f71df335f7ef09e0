"""A run on one page, as plain text: `benchlog show 3f2a`."""

import argparse
import json

from benchlog import folders
from benchlog.store import query
from benchlog.store.run_page import page_of


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own options."""
    parser.add_argument("session", metavar="SESSION", help="a run, by its id or the name of its file")
    parser.add_argument("--json", action="store_true", help="the page as the text of one JSON object")


def run(args: argparse.Namespace) -> int:
    """Print it."""
    library = folders.library(args.library)
    path = query.find_session(library, args.session)
    text = page_of(library, path)
    print(json.dumps({"file": path.name, "text": text}) if args.json else text, end="\n" if args.json else "")
    return 0
