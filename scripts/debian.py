"""What a bare Debian lacks before benchlog can run: the venv module, and the libraries Qt loads.

Standard library alone, and parses on Python 3.8: it runs before anything is installed.
"""

from __future__ import annotations

import ctypes
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Callable

# Found on a minimal Debian 12: without these not even QtCore can be imported offscreen.
QT_LIBRARIES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
}
# And these for a window on a screen.
SCREEN_LIBRARIES = {
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
}
# What tones and speech come through; the window does without.
SOUND_LIBRARIES = {
    "libpulse.so.0": "libpulse0",
    "libXrandr.so.2": "libxrandr2",
    "libspeechd.so.2": "libspeechd2",
}


def has_venv() -> bool:
    """Tell whether this Python can make a virtual environment with pip in it."""
    return all(importlib.util.find_spec(name) for name in ("venv", "ensurepip"))


def can_load(library: str) -> bool:
    """Tell whether the system finds a shared library by its name."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def lacking(
    screen: bool, venv: Callable[[], bool] = has_venv, load: Callable[[str], bool] = can_load
) -> list[str]:
    """Name the Debian packages that are not there yet; `screen` adds what a window needs."""
    if sys.platform != "linux":
        return []
    wanted = {**QT_LIBRARIES, **(SCREEN_LIBRARIES if screen else {})}
    packages = [package for library, package in wanted.items() if not load(library)]
    return packages if venv() else [venv_package(), *packages]


def wished(load: Callable[[str], bool] = can_load) -> list[str]:
    """Name the Debian packages for tones and speech that are not there yet; nothing waits for them."""
    if sys.platform != "linux":
        return []
    return [package for library, package in SOUND_LIBRARIES.items() if not load(library)]


def venv_package() -> str:
    """Name the package that gives this Python its venv module."""
    usual = Path(sys.executable).resolve() == Path("/usr/bin/python3").resolve()
    return "python3-venv" if usual else f"python{sys.version_info[0]}.{sys.version_info[1]}-venv"


def commands(packages: list[str]) -> list[list[str]]:
    """Give the command lines that install `packages`, without sudo."""
    return [
        ["apt-get", "update"],
        ["apt-get", "install", "--yes", "--no-install-recommends", *packages],
    ]


def by_hand(packages: list[str]) -> str:
    """Tell a person how to get `packages`, where this program may not or cannot fetch them."""
    if shutil.which("apt-get") is None:
        return f"Install by your system's own means what Debian calls: {' '.join(packages)}."
    line = " && ".join("sudo " + " ".join(command) for command in commands(packages))
    return f"The system's administrator must run this once; then start again:\n    {line}"


def may_install() -> bool:
    """Tell whether this process can use apt."""
    return sys.platform == "linux" and shutil.which("apt-get") is not None and os.geteuid() == 0


def install(packages: list[str]) -> bool:
    """Install `packages` by apt; True when that worked, else apt has said why not."""
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    update, get = commands(packages)
    # A list that cannot be refreshed, one source of many, need not keep the packages from coming.
    subprocess.run(update, env=environment, stdout=subprocess.DEVNULL, check=False)
    return subprocess.run(get, env=environment, stdout=subprocess.DEVNULL, check=False).returncode == 0
