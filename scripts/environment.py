"""Sets benchlog up in a checkout: the right Python, the system's packages, and `.venv` beside the files.

Standard library alone, and parses on Python 3.8, so that an old one gets a sentence instead of a syntax
error. A second set-up with nothing changed starts no pip and needs no network.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import debian

ROOT = Path(__file__).resolve().parent.parent
OLDEST = (3, 11)
NEWEST = (3, 13)
FAILED = 2

_RERUN_MARK = "BENCHLOG_RERUN"


def say(text: str) -> None:
    """Show one line of the set-up at once, also through a pipe."""
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def prepare() -> str:
    """Make everything ready and give the path of the environment's Python; ends the program where it cannot."""
    use_fitting_python()
    screen = display() is not None
    supply(debian.lacking(screen=screen), debian.wished() if screen else [])
    return Environment(ROOT).ready()


def display() -> str | None:
    """Name the display a window could open on, or None."""
    if sys.platform in ("win32", "darwin"):
        return sys.platform
    return os.environ.get("WAYLAND_DISPLAY") or os.environ.get("DISPLAY") or None


def fits(version: tuple[int, ...]) -> bool:
    """Tell whether a Python of this version (major, minor, ...) can run benchlog."""
    return OLDEST <= version[:2] <= NEWEST


def use_fitting_python() -> None:
    """Go on with this Python where it fits, else start again with one that does, else say which is needed."""
    version = tuple(sys.version_info[:2])
    if fits(version):
        return
    mine = "Python " + ".".join(map(str, version))
    other = None if os.environ.get(_RERUN_MARK) else fitting_on_path()
    if other is None:
        say(f"benchlog needs Python 3.11, 3.12 or 3.13; this is {mine}, and no other was found.")
        sys.exit(FAILED)
    say(f"This is {mine}; going on with {other}.")
    become([other, *sys.argv], dict(os.environ, **{_RERUN_MARK: "1"}))


def fitting_on_path() -> str | None:
    """Find a Python on the PATH that can run benchlog, the newest first."""
    for minor in range(NEWEST[1], OLDEST[1] - 1, -1):
        found = shutil.which(f"python3.{minor}")
        if found and version_of(found) == (3, minor):
            return found
    return None


def version_of(python: str) -> tuple[int, ...]:
    """Ask a Python for its (major, minor); empty where it does not run (a launcher without its version)."""
    question = "import sys; print(*sys.version_info[:2])"
    try:
        answer = subprocess.run(
            [python, "-c", question],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=30,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return ()
    return tuple(int(word) for word in answer.stdout.split()) if answer.returncode == 0 else ()


def supply(packages: list[str], wished: list[str] | None = None) -> None:
    """See to it that the system has these packages; ends the program where it stays without them.

    Those that are only wished for are fetched where that may be, else named.
    """
    lacking = packages + (wished or [])
    if not lacking:
        say("1/4 system packages: all there")
    elif debian.may_install():
        say("1/4 system packages: installing " + " ".join(lacking))
        if packages and not debian.install(packages):
            say("The system's packages did not come; the lines above say why.")
            sys.exit(FAILED)
        if wished and not debian.install(wished):
            say("Those for tones and speech did not come; benchlog does without.")
    elif packages:
        say("1/4 system packages: lacking " + " ".join(packages))
        say(debian.by_hand(lacking))
        sys.exit(FAILED)
    else:
        say("1/4 system packages: all there; for tones and speech besides: " + " ".join(lacking))


def become(command: list[str], environment: dict[str, str] | None = None) -> None:
    """Let this process go on as `command`, so that signals and the exit status are that program's own."""
    inherited = dict(os.environ) if environment is None else environment
    sys.stdout.flush()
    if os.name == "posix":
        os.execve(command[0], command, inherited)
    child = subprocess.Popen(command, env=inherited)
    while True:
        try:
            sys.exit(child.wait())
        except KeyboardInterrupt:
            # Windows sends Ctrl-C to both; the child ends its run in its own way and is waited for.
            continue


class Environment:
    """The virtual environment of one checkout, with the stamp that says what it was made from.

    The stamp's first line stands for the locked packages, its second for the project itself. It is
    written last: without it the folder is half built and is made anew.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.folder = root / ".venv"
        self.stamp = self.folder / "benchlog-stamp"
        self.lock = root / "scripts" / "requirements.lock"
        self.python = str(self.folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python"))

    def ready(self) -> str:
        """Bring the environment up to date, one line per step, and give its Python's path."""
        wanted = [self.packages_key(), self.project_key()]
        there = self.stamped()
        whole = there[:1] == wanted[:1] and fits(version_of(self.python))
        if whole:
            say("2/4 .venv: as it was")
            say("3/4 packages: as they were")
        else:
            self.build()
        if whole and there == wanted:
            say("4/4 benchlog: as it was")
            return self.python
        say("4/4 benchlog: linking this checkout into .venv")
        self.forget()
        self.pip("install", "--no-deps", "--no-build-isolation", "--no-index", "--editable", str(self.root))
        self.stamp.write_text("\n".join(wanted) + "\n", "utf-8")
        return self.python

    def build(self) -> None:
        """Make the folder anew and install exactly what the lock names."""
        say("2/4 .venv: making it with Python " + ".".join(map(str, sys.version_info[:2])))
        self.forget()
        self.run([sys.executable, "-m", "venv", "--clear", str(self.folder)])
        say("3/4 packages: fetching what scripts/requirements.lock names (about 300 MB, some minutes)")
        self.pip("install", "--require-hashes", "--only-binary", ":all:", "--requirement", str(self.lock))

    def pip(self, *words: str) -> None:
        """Run the environment's pip, quietly unless it fails."""
        self.run([self.python, "-m", "pip", "--quiet", "--no-input", "--disable-pip-version-check", *words])

    def run(self, command: list[str]) -> None:
        """Run one step; where it fails, say so in a sentence and end."""
        # What a person set for their own projects must not lead into or out of this environment.
        astray = ("PYTHONHOME", "PYTHONPATH", "PIP_USER", "PIP_TARGET", "PIP_PREFIX", _RERUN_MARK)
        kept = {name: value for name, value in os.environ.items() if name not in astray}
        try:
            status = subprocess.run(command, env=kept, cwd=str(self.root), check=False).returncode
        except KeyboardInterrupt:
            say("Set-up interrupted; the next start makes .venv anew.")
            sys.exit(FAILED)
        if status:
            say("The set-up failed at: " + " ".join(command))
            say("The lines above say why; start again once that is mended.")
            sys.exit(FAILED)

    def forget(self) -> None:
        """Take the stamp away before anything changes, so that an interrupted step is seen."""
        if self.stamp.exists():
            self.stamp.unlink()

    def stamped(self) -> list[str]:
        """Read what the environment was made from: two lines, or none where it is missing or half built."""
        try:
            return self.stamp.read_text("utf-8").split("\n")[:2]
        except OSError:
            return []

    def packages_key(self) -> str:
        """Stand for the locked packages; the folder's own path is part of every script in it."""
        return _digest(str(self.folder), self.lock.read_text("utf-8"))

    def project_key(self) -> str:
        """Stand for what the link into this checkout is made from."""
        return _digest(str(self.root), (self.root / "pyproject.toml").read_text("utf-8"))


def _digest(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode("utf-8")).hexdigest()
