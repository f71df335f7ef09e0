"""The program: opens a bench, says where it is, and keeps it alive until told to end."""

import argparse
import json
import os
import signal
import sys
import threading
from contextlib import ExitStack
from pathlib import Path
from typing import BinaryIO

from benchlog import resources
from benchlog.errors import BadInput, Full
from benchlog.simbench import arguments, truth
from benchlog.simbench.bench import Bench
from benchlog.simbench.loop import Loop
from benchlog.simbench.witness import Witness


def run(args: argparse.Namespace) -> int:
    """Open the bench, print its addresses as one JSON line, live until Ctrl-C, SIGTERM or end of input."""
    arguments.check(args)
    found = truth.load(args.example, args.fault)
    loop = Loop()
    with ExitStack() as stack:
        to = stack.enter_context(_open(args.witness)) if args.witness else sys.stdout.buffer
        witness = Witness(to.fileno(), thinned=args.thinned)
        stack.callback(witness.close)
        bench = Bench(
            loop,
            found,
            witness,
            speed=args.speed,
            seed=args.seed,
            delay=args.delay,
            sockets=args.sockets,
            played=args.played,
        )
        stack.callback(bench.close)
        if args.bench:
            write_bench(args.bench, args.example, bench.addresses)
        # Whoever has read the first line may end it at once.
        _end_with(loop, until_eof=args.until_eof)
        _announce(bench)
        loop.run()
    return 0


def write_bench(file: Path, example: str, addresses: dict[str, str]) -> None:
    """Write the example's bench file with real addresses in place of the simulated ones."""
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    for job, address in addresses.items():
        text = text.replace(f'"simulated:{job}"', json.dumps(address))
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise Full(str(file), f"cannot be written: {error.strerror}") from error


def _open(file: Path) -> BinaryIO:
    try:
        return file.open("wb")
    except OSError as error:
        raise BadInput(str(file), f"cannot be written: {error.strerror}", "name another file") from error


def _announce(bench: Bench) -> None:
    first = {
        "simulated": bench.truth.example,
        "control": bench.control.address,
        "addresses": bench.addresses,
        "speed": bench.speed,
    }
    print(json.dumps(first), flush=True)


def _end_with(loop: Loop, *, until_eof: bool) -> None:
    """Stop the loop at Ctrl-C, at SIGTERM, and where asked for at the end of standard input."""
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, lambda _number, _frame: loop.stop())
    if until_eof:
        threading.Thread(target=_read_to_end, args=(loop,), name="until-eof", daemon=True).start()


def _read_to_end(loop: Loop) -> None:
    """Read standard input without its buffer, whose lock would outlive this thread at the exit."""
    try:
        while os.read(sys.stdin.fileno(), 4096):
            pass
    except OSError:
        pass
    loop.stop()
