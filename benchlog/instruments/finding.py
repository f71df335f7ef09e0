"""Which instruments there are: serial ports and VISA resources listed, and those asked that a person ticked.

Listing opens no port and writes to none. Asking listens first, since a meter that writes unasked needs no
question, then asks what it is, as every profile would.

    python -m benchlog.instruments.finding [--profiles DIR] [ADDRESS ...]

is a process of its own, since drivers may block for good: it prints one JSON object a line, `{"step": TEXT}`
before whatever may take a while and `{"found": {...}}` for each find; whoever started it sets its time.
"""

import argparse
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from fnmatch import fnmatchcase
from pathlib import Path

from benchlog import resources
from benchlog.domain.reading import Outcome
from benchlog.errors import BenchlogError, LinkError
from benchlog.instruments import link_apart
from benchlog.instruments.address import Address, SerialAddress, UsbSerialAddress, parse_address
from benchlog.instruments.decode import as_text
from benchlog.instruments.framer import LineFramer
from benchlog.instruments.link import Link, open_link
from benchlog.instruments.link_serial import Lister, ports
from benchlog.instruments.profile import Profile, Wire, find_profile
from benchlog.instruments.stream import Stream

LISTEN_SECONDS = 1.5
"""So long a serial port is listened to: twice the pause of the slowest handheld."""
ANSWER_SECONDS = 2.0
"""Longest wait for an identity."""
OPEN_SECONDS = 5.0
VISA_SECONDS = 12.0
"""Longest search of VISA; some of its drivers never end it."""
LINE = 4096
USUAL_QUESTION = "*IDN?"
"""Asked first, since most instruments know it."""

Tell = Callable[[str], None]
"""Hears what is being done."""


@dataclass(frozen=True, slots=True)
class Found:
    """One place where an instrument is or may be.

    Attributes:
        address: as a bench file names it.
        device: the port's name now, empty where it is none.
        about: what the system says of it.
        identity: what it answered, or the line it wrote unasked.
        profiles: names of the profiles that fit, the narrowest first.
        wrong: why it could not be asked, or why nothing fits.
    """

    address: str
    device: str = ""
    about: str = ""
    identity: str = ""
    profiles: tuple[str, ...] = ()
    wrong: str = ""


def serial_ports(lister: Lister = ports) -> list[Found]:
    """The serial ports of this computer; none is opened."""
    return [Found(port.address, port.device, port.about) for port in lister()]


def visa_resources() -> list[Found]:
    """What VISA finds by itself, within its time; one find without address says why there is none."""
    command = [*link_apart.COMMAND, "--list"]
    try:
        done = subprocess.run(
            command, stdin=subprocess.DEVNULL, capture_output=True, timeout=VISA_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return [Found("", wrong=f"VISA did not end its search within {VISA_SECONDS:g} s")]
    except OSError as error:
        return [Found("", wrong=f"VISA could not be started ({error.strerror or error})")]
    if done.returncode != 0:
        said = done.stderr.decode(errors="replace").strip().splitlines()
        return [Found("", wrong=f"VISA could not search: {said[-1] if said else 'no reason given'}")]
    return [Found(name, about="VISA") for name in json.loads(done.stdout)]


def known_profiles(folders: Sequence[Path]) -> dict[str, Profile]:
    """Every profile that can be read, a person's own before the shipped one of the same name."""
    found: dict[str, Profile] = {}
    for folder in (*folders, resources.path("profiles")):
        for path in sorted(folder.glob("*.toml")) if folder.is_dir() else ():
            if path.stem not in found:
                try:
                    found[path.stem] = find_profile(path.stem, folders)
                except BenchlogError:
                    continue  # it cannot fit; the bench page tells what is wrong with it
    return found


def ask(text: str, profiles: dict[str, Profile], tell: Tell) -> Found:
    """Ask whatever is at an address what it is; BadInput where that is no address."""
    address = parse_address(text)
    wrong = stranger = ""
    asked: dict[str, None] = {}
    for wire, group in _by_port(address, profiles):
        try:
            link = open_link(address, wire, text, OPEN_SECONDS)
        except LinkError as error:
            return Found(text, wrong=f"{error.problem}; {error.fix}" if error.fix else error.problem)
        try:
            found = _hear(link, address, group, tell) or _question(link, group, tell, asked)
        except LinkError as error:
            wrong = error.problem
            continue
        finally:
            link.close()
        if found is not None and found.profiles:
            return replace(found, address=text)
        stranger = stranger or (found.identity if found is not None else "")
    said = f" (asked: {', '.join(asked)})" if asked else ""
    if stranger:
        return Found(text, identity=stranger, wrong=f"no profile fits what it answers{said}")
    return Found(text, wrong=wrong or f"opens, but nothing that comes fits a profile{said}")


def _by_port(address: Address, profiles: dict[str, Profile]) -> Iterator[tuple[Wire, dict[str, Profile]]]:
    """The profiles in groups that share the settings of a port; all in one where there are none to set."""
    if not isinstance(address, SerialAddress | UsbSerialAddress):
        asked = {name: one for name, one in profiles.items() if one.kind != "stream"}
        yield Wire(), asked
        return
    settings = dict.fromkeys(one.link.serial for one in profiles.values())
    for serial in settings:
        yield (
            Wire(serial=serial),
            {name: one for name, one in profiles.items() if one.link.serial == serial},
        )


def _hear(link: Link, address: Address, group: dict[str, Profile], tell: Tell) -> Found | None:
    """What writes unasked, told by the profile that can read it; nothing is sent."""
    now = time.monotonic_ns()
    streams = {name: Stream(one, None, now) for name, one in group.items() if one.kind == "stream"}
    if not streams or not isinstance(address, SerialAddress | UsbSerialAddress):
        return None
    tell("listening")
    until = time.monotonic() + LISTEN_SECONDS
    while (left := until - time.monotonic()) > 0:
        data = link.receive(left)
        for name, stream in streams.items():
            for reading in stream.feed(data, time.monotonic_ns()) if data else ():
                if reading.outcome in (Outcome.OK, Outcome.OVERLOAD):
                    return Found("", identity=reading.raw, profiles=(name,))
    return None


def _question(link: Link, group: dict[str, Profile], tell: Tell, asked: dict[str, None]) -> Found | None:
    """What answers one of the identity questions as a profile expects, else the first answer; adds to `asked`."""
    stranger = None
    lines = {
        (one.identity.question, one.link.send_end, one.link.reply_end)
        for one in group.values()
        if one.identity is not None
    }
    for question, send_end, reply_end in sorted(lines, key=lambda line: (line[0] != USUAL_QUESTION, line)):
        tell(f"asking {question}")
        asked[question] = None
        link.drain(Wire().quiet)
        link.send((question + send_end).encode("ascii"))
        said = _line(link, reply_end.encode("ascii"))
        if not said:
            continue
        if fits := fitting(said, question, group):
            return Found("", identity=said, profiles=fits)
        # Another question may be the one it knows.
        stranger = stranger or Found("", identity=said)
    return stranger


def fitting(identity: str, question: str, profiles: dict[str, Profile]) -> tuple[str, ...]:
    """The profiles whose identity this answer is, the one that says most of it first."""
    fits = {
        name: sum(letter not in "*?[]" for letter in one.identity.answer)
        for name, one in profiles.items()
        if one.identity is not None
        and one.identity.question == question
        and fnmatchcase(identity, one.identity.answer)
    }
    return tuple(sorted(fits, key=lambda name: (-fits[name], name)))


def _line(link: Link, end: bytes) -> str:
    """The first whole line, or nothing."""
    framer = LineFramer(end, LINE)
    until = time.monotonic() + ANSWER_SECONDS
    while (left := until - time.monotonic()) > 0:
        for line in framer.feed(link.receive(left)):
            if text := as_text(line).strip():
                return text
    return ""


def main() -> None:
    """List what there is, or ask at the addresses given, and print it as it comes."""
    parser = argparse.ArgumentParser(prog="finding", allow_abbrev=False)
    parser.add_argument("--profiles", type=Path, action="append", default=[])
    parser.add_argument("address", nargs="*")
    args = parser.parse_args()

    def say(**what: object) -> None:
        sys.stdout.write(json.dumps(what, ensure_ascii=True) + "\n")
        sys.stdout.flush()

    def doing_at(text: str) -> Tell:
        return lambda doing: say(step=f"{text}: {doing}")

    if args.address:
        profiles = known_profiles(args.profiles)
        for text in args.address:
            say(step=text)
            say(found=asdict(ask(text, profiles, doing_at(text))))
        return
    say(step="serial ports")
    for found in serial_ports():
        say(found=asdict(found))
    say(step="VISA")
    for found in visa_resources():
        say(found=asdict(found))


if __name__ == "__main__":
    main()
