"""Readings from one instrument, as they come: `benchlog read tcp://192.168.1.20:5025 --function ohms`."""

import argparse
import json
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path, PureWindowsPath

from benchlog import folders
from benchlog.domain.quantity import show
from benchlog.domain.reading import STATES, Function, Outcome, Reading
from benchlog.errors import BadInput, Gone, TimedOut
from benchlog.instruments.address import TcpAddress, VisaAddress, parse_address
from benchlog.instruments.bench import MeterEntry, SupplyEntry
from benchlog.instruments.meter import Instrument
from benchlog.instruments.opening import open_meter, open_supply
from benchlog.instruments.profile import Profile, find_profile
from benchlog.instruments.unreadable import why
from benchlog.textfile import did_you_mean

SLICE = 0.1
"""Longest wait before time and Ctrl-C are looked at again, in s."""

NONE_READ = (Outcome.MALFORMED, Outcome.MISSING, Outcome.LATE)
"""Outcomes of which nothing can be read."""

UNREADABLE = 2
"""Exit status where nothing that came could be read, as for a profile that does not fit."""

NETWORK_PROFILE = "scpi-multimeter"
SERIAL_PROFILE = "ascii-handheld"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's own options."""
    parser.add_argument(
        "address", metavar="ADDRESS", help="tcp://host:port, TCPIP::host::port::SOCKET, COM3, /dev/..."
    )
    parser.add_argument(
        "--profile",
        metavar="NAME",
        help=f"how to talk to it (usual: {NETWORK_PROFILE} on a network, {SERIAL_PROFILE} on a serial port)",
    )
    parser.add_argument("--function", metavar="F", help="what to measure, such as volts_dc or ohms")
    parser.add_argument("--count", type=int, metavar="N", help="end after so many readings")
    parser.add_argument("--for", type=float, dest="seconds", metavar="SECONDS", help="end after so long")
    parser.add_argument("--json", action="store_true", help="one JSON object a line")


def run(args: argparse.Namespace) -> int:
    """Read until told to end; Ctrl-C ends it as well."""
    if args.count is not None and args.count < 1:
        raise BadInput("--count", f"{args.count} is no number of readings", "give 1 or more")
    if args.seconds is not None and not 0 < args.seconds < 1e9:
        raise BadInput("--for", f"{args.seconds:g} s is no time to read for", "give seconds above 0")
    name = _profile_name(args)
    profile = _find(name, folders.library(args.library) / "profiles")
    try:
        return _read(args, name, profile)
    except Gone as error:
        # Nobody opens it again here.
        fix = "look at its cable and its power, then read again" if "opened anew" in error.fix else error.fix
        raise Gone(error.place, error.problem, fix) from None


def _read(args: argparse.Namespace, name: str, profile: Profile) -> int:
    """Print what comes; what cannot be read gets its sentence once."""
    instrument = _attach(args, name, profile)
    told, read = False, 0
    try:
        started = datetime.now(UTC).timestamp() - time.monotonic()
        for n, reading in enumerate(_readings(instrument, args.seconds), 1):
            line = _as_json(reading, started) if args.json else _as_text(reading, started)
            print(line, flush=True)
            read += reading.outcome not in NONE_READ
            if not told and (fault := why(reading, profile, name)):
                told = True
                print(fault, file=sys.stderr, flush=True)
            if n == args.count:
                break
    finally:
        instrument.close()
    return UNREADABLE if told and not read else 0


def _profile_name(args: argparse.Namespace) -> str:
    """The profile asked for, or the usual one."""
    network = isinstance(parse_address(args.address, "address"), TcpAddress | VisaAddress)
    usual = NETWORK_PROFILE if network else SERIAL_PROFILE
    return str(args.profile or usual)


def _attach(args: argparse.Namespace, name: str, profile: Profile) -> Instrument:
    """Open the instrument at the address given."""
    job = args.address
    if profile.kind == "supply":
        if args.function:
            raise BadInput(
                "--function", f"{profile.name} tells volts, amps and state of each output", "leave it out"
            )
        return open_supply(SupplyEntry(job=job, profile=name, address=job), profile)
    function = _function(args.function, profile)
    return open_meter(MeterEntry(job=job, profile=name, address=job, function=function), profile)


def _find(name: str, own: Path) -> Profile:
    """The profile of that name; a path is no name, and the fix says where the file belongs."""
    try:
        return find_profile(name, [own])
    except BadInput as error:
        if error.place != "profile":
            raise
        fix = error.fix
        if any(mark in name for mark in ("/", "\\", ".toml")):
            stem = PureWindowsPath(name).stem  # takes both kinds of strokes
            fix = f"put it into the folder profiles of your library ({own}) and write --profile {stem}"
        raise BadInput("--profile", error.problem, fix) from None


def _function(name: str | None, profile: Profile) -> Function:
    """The function asked for, or the first of the profile."""
    if name is None:
        return profile.functions[0]
    if name not in profile.functions:
        known = f"it measures {', '.join(profile.functions)}"
        raise BadInput(
            "--function",
            f"{profile.name} does not measure {name}",
            did_you_mean(name, profile.functions) or known,
        )
    return Function(name)


def _readings(instrument: Instrument, seconds: float | None) -> Iterator[Reading]:
    """What it says, until the time is over; TimedOut where it never said anything."""
    until = None if seconds is None else time.monotonic() + seconds
    heard = False
    while until is None or time.monotonic() < until:
        left = SLICE if until is None else min(SLICE, max(until - time.monotonic(), 0.0))
        for reading in instrument.step(left):
            if not heard and reading.outcome is Outcome.MISSING:
                if reading.raw:
                    problem = f'answered "{reading.raw}" without the line end that its profile expects'
                    raise TimedOut(instrument.job, problem, "look at reply_end in [link] of its profile")
                raise TimedOut(
                    instrument.job,
                    "opened, but no reading came",
                    "check that it is switched on, and its profile",
                )
            heard = True
            yield reading


def _moment(reading: Reading, started: float) -> datetime:
    """When it came; `started` is UTC at the monotonic clock's zero."""
    return datetime.fromtimestamp(started + reading.at * 1e-9, UTC)


def _as_json(reading: Reading, started: float) -> str:
    """One JSON object; values in base SI, `overload` true where the reading is one, `error` null where unknown."""
    document: dict[str, object] = {
        "time": _moment(reading, started).isoformat(timespec="microseconds").replace("+00:00", "Z"),
        "value": reading.value,
        "unit": reading.function.unit,
        "error": reading.error,
        "overload": reading.outcome is Outcome.OVERLOAD,
        "outcome": reading.outcome.value,
        "function": reading.function.value,
        "raw": reading.raw,
    }
    if reading.channel:
        document["channel"] = reading.channel
    if reading.beside:
        document["beside"] = dict(reading.beside)
    if reading.flags:
        document["flags"] = list(reading.flags)
    return json.dumps(document, ensure_ascii=False)


def _as_text(reading: Reading, started: float) -> str:
    """One line for a person, in local time."""
    moment = _moment(reading, started).astimezone().strftime("%H:%M:%S.%f")[:-3]
    channel = f"{reading.channel}  " if reading.channel else ""
    flags = f"  ({', '.join(reading.flags).replace('_', ' ')})" if reading.flags else ""
    return f"{moment}  {channel}{_said(reading)}  {reading.function}{flags}"


def _said(reading: Reading) -> str:
    """What the reading amounts to: a value with its unit, OL, or how it failed and with what text."""
    if reading.outcome is Outcome.OVERLOAD:
        return "-OL" if reading.negative else "OL"
    if reading.value is None:
        return f'{reading.outcome} "{reading.raw}"' if reading.raw else str(reading.outcome)
    if reading.function is Function.STATE:
        return str(STATES[int(reading.value)])
    said = show(reading.value, reading.function.unit, digits=7, resolution=reading.resolution)
    if reading.error is not None:
        said += f" ± {show(reading.error, reading.function.unit, digits=3)}"
    beside = [f"{word.replace('_', ' ')} {value:.4g}" for word, value in reading.beside]
    return "  ".join([said, *beside])
