"""Stands in for a sound player: notes when it was played, then tells the simulated person's ear.

`listener.py FILE CONTROL`, where CONTROL may be a bench that is dead. Only the standard library, and
little of it: it is started anew for every second of alarm.
"""

import socket
import sys
import time


def main(file: str, control: str) -> int:
    """Write the moment down, pass it on."""
    with open(file, "a", encoding="ascii") as heard:  # noqa: PTH123 - pathlib takes as long to load as all of this
        heard.write(f"{time.monotonic_ns()}\n")
    host, _, port = control.removeprefix("tcp://").rpartition(":")
    try:
        with socket.create_connection((host, int(port)), timeout=2.0) as wire:
            wire.sendall(b'{"do":"alarm"}\n')
            wire.recv(256)
    except OSError:
        pass  # A dead bench has no ear; the alarm was heard all the same.
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
