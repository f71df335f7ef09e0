"""Bare rivals, each a process of its own: `python -m measure.rivals KIND ADDRESS...`.

They do the least that could be called the same: no deadlines, no framing, no units, no file.

cut: a two-socket loop, the supply's address first; asks a meter, and cuts at the first reading above 5.
     With more than one meter a thread for each, all with the one socket to cut.
raw: a thread for each meter, a raw socket each: ask, read a line, make a number of it.
visa: the same by pyvisa with its pure-Python backend, a session each.
pipe: keeps many questions under way on each socket, to find what the far end gives at most.
Prints {"ready": ...}; raw, visa and pipe then print {"readings": n, "seconds": s} after --seconds.
"""

import argparse
import json
import os
import re
import socket
import sys
import threading
import time
from collections.abc import Callable

import pyvisa
from pyvisa.resources import MessageBasedResource

LIMIT = 5.0
OFF = b"OUTP OFF,(@1,2)\n"
UNDER_WAY = 64
_ADDRESS = re.compile(r"TCPIP::([\d.]+)::(\d+)::SOCKET")

Loop = Callable[[str, "Tally"], None]


class Tally:
    """Counts readings while it is told to; each thread has one."""

    def __init__(self) -> None:
        self.readings = 0
        self.running = True


def connected(address: str) -> socket.socket:
    """A plain socket to a meter or a supply."""
    found = _ADDRESS.fullmatch(address)
    if found is None:
        raise ValueError(address)
    sock = socket.create_connection((found[1], int(found[2])))
    sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return sock


def raw(address: str, tally: Tally) -> None:
    """Ask, read, convert, count."""
    sock = connected(address)
    replies = sock.makefile("rb")
    while tally.running:
        sock.sendall(b"READ?\n")
        float(replies.readline())
        tally.readings += 1


def visa(address: str, tally: Tally) -> None:
    """The same by pyvisa."""
    session = pyvisa.ResourceManager("@py").open_resource(
        address, read_termination="\n", write_termination="\n"
    )
    if not isinstance(session, MessageBasedResource):
        raise TypeError(address)
    while tally.running:
        float(session.query("READ?"))
        tally.readings += 1


def pipe(address: str, tally: Tally) -> None:
    """Never let the far end wait for a question."""
    sock = connected(address)
    sock.sendall(b"READ?\n" * UNDER_WAY)
    while tally.running:
        came = sock.recv(65536).count(b"\n")
        sock.sendall(b"READ?\n" * came)
        tally.readings += came


def cutting(supply: socket.socket, address: str) -> None:
    """Ask, read, convert, compare, cut; until the process ends."""
    sock = connected(address)
    while True:
        sock.sendall(b"READ?\n")
        if float(sock.recv(4096)) > LIMIT:
            supply.sendall(OFF)


LOOPS: dict[str, Loop] = {"raw": raw, "visa": visa, "pipe": pipe}


def count(loop: Loop, addresses: list[str], seconds: float) -> None:
    """Run the loop in a thread for each address and print what all of them read in that time."""
    tallies = [Tally() for _ in addresses]
    pairs = zip(addresses, tallies, strict=True)
    threads = [threading.Thread(target=loop, args=pair, daemon=True) for pair in pairs]
    for thread in threads:
        thread.start()
    while not all(tally.readings for tally in tallies):
        time.sleep(0.01)
    begun, before = time.monotonic(), sum(tally.readings for tally in tallies)
    time.sleep(seconds)
    taken, after = time.monotonic() - begun, sum(tally.readings for tally in tallies)
    print(json.dumps({"readings": after - before, "seconds": taken}), flush=True)
    for tally in tallies:
        tally.running = False
    for thread in threads:
        thread.join(5.0)


def main() -> int:
    """Be one of the rivals."""
    parser = argparse.ArgumentParser(prog="python -m measure.rivals")
    parser.add_argument("kind", choices=("cut", *LOOPS))
    parser.add_argument("addresses", nargs="+", metavar="ADDRESS")
    parser.add_argument("--seconds", type=float, default=3.0)
    args = parser.parse_args()
    if args.kind == "cut":
        supply = connected(args.addresses[0])
        for address in args.addresses[1:]:
            threading.Thread(target=cutting, args=(supply, address), daemon=True).start()
        print(json.dumps({"ready": "cut"}), flush=True)
        while os.read(0, 4096):
            pass
        return 0
    count(LOOPS[args.kind], args.addresses, args.seconds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
