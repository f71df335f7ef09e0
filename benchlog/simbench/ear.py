"""Stands in for a sound player: `python -m benchlog.simbench.ear tcp://HOST:PORT [-- PLAYER ...]`.

Tells the simulated bench that the alarm was heard, then lets a real player sound as well where one is named.
Exit status 0 where the bench heard it, whatever became of the sound.
"""

import socket
import subprocess
import sys


def main(arguments: list[str]) -> int:
    """Tell the control port; a sound's path behind the address is of no interest."""
    address, *rest = arguments
    heard = _tell(address)
    if rest[:1] == ["--"]:
        _sound(rest[1:])
    return 0 if heard else 1


def _tell(address: str) -> bool:
    host, _, port = address.removeprefix("tcp://").rpartition(":")
    try:
        with socket.create_connection((host, int(port)), timeout=2.0) as wire:
            wire.sendall(b'{"do":"alarm"}\n')
            return b'"ok": true' in wire.recv(256)
    except OSError:
        return False


def _sound(player: list[str]) -> None:
    null = subprocess.DEVNULL
    try:
        # Shorter than what the alarm grants its player.
        subprocess.run(player, stdin=null, stdout=null, stderr=null, timeout=2.0, check=False)
    except (OSError, subprocess.TimeoutExpired):
        pass


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
