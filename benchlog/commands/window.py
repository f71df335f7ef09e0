"""`benchlog` alone: the window on the library."""

import argparse

from benchlog import folders
from benchlog.window.app import run_window


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """It has no options of its own: what may stand without a command is the entry's."""


def run(args: argparse.Namespace) -> int:
    """Open the window and stay until it is closed; 0."""
    return run_window(folders.library(args.library))
