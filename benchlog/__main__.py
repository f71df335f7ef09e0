"""The entry: a table of commands, each loaded only when asked for, so that `decode` never loads Qt."""

import argparse
import difflib
import importlib
import io
import logging
import os
import re
import signal
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn, Protocol, cast

from benchlog import __version__, logs
from benchlog.commands import display
from benchlog.errors import BadInput, BenchlogError

BUG = 1
BAD_INPUT = 2
ENDED_BY_OPERATOR = 4


@dataclass(frozen=True, slots=True)
class Entry:
    """One subcommand: the module that holds it, its line in the help, and the one in its place with a window."""

    module: str
    about: str
    with_window: str = ""

    def chosen(self, given: Sequence[str]) -> str:
        """The module to load: that with the window only where one can open and nothing speaks against it."""
        wanted = self.with_window and not NO_WINDOW.intersection(given) and display.there()
        return self.with_window if wanted else self.module


NO_WINDOW = frozenset({"--headless", "--json", "--help", "-h"})
"""What is asked for in a terminal; Qt is not loaded for it."""

WINDOW = Entry("benchlog.commands.window", "the window")

COMMANDS = {
    "demo": Entry(
        "benchlog.commands.demo", "the whole job on a simulated bench", "benchlog.commands.demo_window"
    ),
    "simulate": Entry("benchlog.commands.simulate", "a simulated bench to connect to; prints what it saw"),
    "decode": Entry("benchlog.commands.decode", "a part's marking -> value, unit, tolerance"),
    "judge": Entry("benchlog.commands.judge", "what a reading proves about what it should read"),
    "scan": Entry("benchlog.commands.scan", "which ports there are, and what answers at those you name"),
    "read": Entry("benchlog.commands.read", "readings from one instrument"),
    "powerup": Entry("benchlog.commands.powerup", "a staged power-up by your own plan and bench"),
    "parts": Entry(
        "benchlog.commands.parts", "a unit's parts: taken in from a sheet, listed, or read with a meter"
    ),
    "sessions": Entry("benchlog.commands.sessions", "the runs that were kept, narrowed by words"),
    "show": Entry("benchlog.commands.show", "a run on one page: what was done, what it reads, what differs"),
    "export": Entry(
        "benchlog.commands.export", "runs as CSV, every reading, with their conditions at the head"
    ),
}


class Command(Protocol):
    """What a file in commands/ offers."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the command's own options."""

    def run(self, args: argparse.Namespace) -> int:
        """Do the work and give the exit status."""


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are one plain sentence, and which takes `-38V` for a value."""

    def __init__(self, prog: str, description: str, epilog: str | None = None) -> None:
        super().__init__(
            prog=prog,
            description=description,
            epilog=epilog,
            allow_abbrev=False,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        # argparse knows -38 for a number, but not -38V, -.61 or -0,6: no option here starts with a digit.
        self._negative_number_matcher = re.compile(r"^-[.,]?\d")
        self.add_argument(
            "--library", type=Path, metavar="DIR", help="the folder that keeps units, readings and runs"
        )

    def error(self, message: str) -> NoReturn:
        raise BadInput("", message, f"`{self.prog} --help` lists what it takes")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command line and give its exit status: 0 done, 1 bug, 2 bad input, 3 tripped, 4 ended."""
    _speak_any_terminal()
    _hear_ctrl_c()
    given = list(sys.argv[1:] if argv is None else argv)
    try:
        return _run(given)
    except BenchlogError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        print("Ended by Ctrl-C.", file=sys.stderr)
        return ENDED_BY_OPERATOR
    except BrokenPipeError:
        # Nobody reads on, as in `benchlog read ... | head`; what is still buffered goes nowhere, quietly.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ENDED_BY_OPERATOR
    except Exception as error:  # noqa: BLE001 - the one place where a bug is told from everything else
        return _own_up(error)


def _hear_ctrl_c() -> None:
    """Make Ctrl-C heard although whoever started this program had it ignored: it is the operator's cut."""
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, signal.default_int_handler)


def _run(given: list[str]) -> int:
    """Find the command, load it alone, and run it."""
    top = _top_parser()
    args = top.parse_args(given)
    if args.command is None:
        return _open_window(args)
    entry = COMMANDS.get(args.command)
    if entry is None:
        raise BadInput("", f'there is no command "{args.command}"', _meant(args.command))
    logs.start("benchlog")
    command = _load(entry.chosen(args.rest))
    parser = _Parser(f"benchlog {args.command}", entry.about)
    command.add_arguments(parser)
    own = parser.parse_args(args.rest)
    own.library = own.library or args.library
    return command.run(own)


def _open_window(args: argparse.Namespace) -> int:
    if not display.there():
        fix = "name a command, `benchlog --help` lists them"
        raise BadInput("", "there is no display here, so the window cannot open", fix)
    logs.start("benchlog")
    return _load(WINDOW.module).run(args)


def _load(module: str) -> Command:
    """Load a command's file; BadInput where the system lacks a library that Qt needs."""
    try:
        return cast(Command, importlib.import_module(module))
    except ImportError as error:
        if "shared object" not in str(error):
            raise
        fix = "`python3 scripts/demo.py` names the system's packages that are lacking, or add --headless"
        raise BadInput("", f"the window cannot be loaded: {error}", fix) from error


def _top_parser() -> argparse.ArgumentParser:
    lines = "\n".join(f"  {name:<10} {entry.about}" for name, entry in COMMANDS.items())
    top = _Parser(
        "benchlog",
        "Takes every reading at the bench, says what it proves, and has the power cut when a limit breaks.",
        f"Without a command the window opens.\n\ncommands:\n{lines}\n\n`benchlog COMMAND --help` tells more.",
    )
    top.add_argument("--version", action="version", version=f"benchlog {__version__}")
    top.add_argument("command", nargs="?", metavar="COMMAND", help="one of those below")
    top.add_argument("rest", nargs=argparse.REMAINDER, metavar="...", help="what the command takes")
    return top


def _meant(typed: str) -> str:
    near = difflib.get_close_matches(typed, COMMANDS, n=1)
    return f'did you mean "{near[0]}"?' if near else f"there are: {', '.join(COMMANDS)}"


def _own_up(error: Exception) -> int:
    """Say that it was a bug, and leave the traceback in the log, or on the terminal where there is none."""
    log = logs.start("benchlog")
    if log is None:
        logging.basicConfig()
    logging.getLogger("benchlog").error("bug", exc_info=error)
    where = f"; the details are in {log}" if log else ""
    print(f"benchlog has a bug: {type(error).__name__}: {error}{where}.", file=sys.stderr)
    return BUG


def _speak_any_terminal() -> None:
    """Keep a terminal that cannot write an ohm sign from ending a run."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


if __name__ == "__main__":
    sys.exit(main())
