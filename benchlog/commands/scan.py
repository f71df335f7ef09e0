"""`benchlog scan`: which serial ports and VISA resources there are, and what answers at those you name."""

import argparse
import contextlib
import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from typing import IO, Any

from benchlog import folders
from benchlog.errors import TimedOut
from benchlog.instruments.address import parse_address

COMMAND = (sys.executable, "-m", "benchlog.instruments.finding")

LIST_SECONDS = 20.0
ASK_SECONDS = 30.0
"""Longest search, and longest asking at one address; then whatever hangs is ended."""

NOTHING = (
    "No serial port and no VISA resource was found. A plain network socket cannot be found: give its "
    "address, as in `benchlog scan --ask tcp://192.168.1.20:5025`."
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own options."""
    parser.add_argument(
        "--ask",
        nargs="+",
        default=[],
        metavar="ADDRESS",
        help="ask at these what is there; without it nothing is opened and nothing is sent",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def run(args: argparse.Namespace) -> int:
    """List, or ask; what hangs is ended and said."""
    for text in args.ask:
        parse_address(text, "--ask")
    own = str(folders.library(args.library) / "profiles")
    count = 0
    if not args.ask:
        for found in search([], LIST_SECONDS):
            count += bool(found["address"])
            _show(found, args)
    for text in args.ask:
        # A process for each: one that hangs takes no other with it.
        for found in search(["--profiles", own, text], ASK_SECONDS):
            count += 1
            _show(found, args)
    if not count and not args.json:
        print(NOTHING)
    return 0


def search(arguments: list[str], seconds: float) -> Iterator[dict[str, Any]]:
    """What the finding process finds, as it comes; one without `address` tells what did not end in time."""
    with subprocess.Popen(
        [*COMMAND, *arguments], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as process:
        lines: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        if process.stdout is not None:
            threading.Thread(target=_pass_on, args=(process.stdout, lines), daemon=True).start()
        try:
            yield from _found(lines, arguments, seconds)
        finally:
            process.kill()


def _found(
    lines: "queue.SimpleQueue[bytes]", arguments: list[str], seconds: float
) -> Iterator[dict[str, Any]]:
    until = time.monotonic() + seconds
    step = "it was started"
    while True:
        try:
            line = lines.get(timeout=max(until - time.monotonic(), 0.001))
        except queue.Empty:
            address = arguments[-1] if arguments else ""
            said = TimedOut(address, f"the search did not end within {seconds:g} s (last: {step})")
            yield {"address": address, "wrong": said.problem}
            return
        if not line:
            return
        told = json.loads(line)
        if "step" in told:
            step = told["step"]
            if sys.stderr.isatty():
                print(f"{step} ...", file=sys.stderr)
        else:
            yield told["found"]


def _pass_on(stream: IO[bytes], lines: "queue.SimpleQueue[bytes]") -> None:
    with contextlib.suppress(ValueError, OSError):
        for line in stream:
            lines.put(line)
    lines.put(b"")


def _show(found: dict[str, Any], args: argparse.Namespace) -> None:
    if args.json:
        print(json.dumps(found, ensure_ascii=False), flush=True)
        return
    fits = " or ".join(found.get("profiles", ()))
    told = [
        found["address"],
        found.get("device", "") if found.get("device") != found["address"] else "",
        found.get("about", ""),
        f'says "{found["identity"]}"' if found.get("identity") else "",
        f"profile: {fits}" if fits else "",
        found.get("wrong", ""),
    ]
    print("  ".join(text for text in told if text), flush=True)
