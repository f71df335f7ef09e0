"""`benchlog simulate`: a simulated bench to connect to, which prints what it saw."""

import argparse

from benchlog.simbench import arguments, program


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare what can be told to it."""
    arguments.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Keep the bench alive until Ctrl-C; 0."""
    return program.run(args)
