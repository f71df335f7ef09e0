"""A screen that nobody sees, with a window manager: for what only a real desktop shows, such as focus."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager

NEEDED = ("Xvfb", "openbox")


def lacking() -> list[str]:
    """Name the programs this machine lacks for such a screen."""
    return [name for name in NEEDED if shutil.which(name) is None]


@contextmanager
def screen(size: str = "1600x1000x24") -> Iterator[dict[str, str]]:
    """Give the environment of a program that shall open its windows there."""
    reading, writing = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", size, "-nolisten", "tcp"],
        pass_fds=(writing,),
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    try:
        with os.fdopen(reading) as number:
            display = f":{number.readline().strip()}"
        found = dict(os.environ, DISPLAY=display, QT_QPA_PLATFORM="xcb")
        quiet = subprocess.DEVNULL
        manager = subprocess.Popen(["openbox"], env=found, stdout=quiet, stderr=quiet)
        try:
            yield found
        finally:
            manager.terminate()
            manager.wait()
    finally:
        server.terminate()
        server.wait()
