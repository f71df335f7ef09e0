"""Plants one breach of each wall in a copy of the tree and demands that the wall's own check finds it.

A wall that was never seen to fail may hold nothing. Each row names the wall, the file planted and its
lines; the file goes into a room that may not exist yet, which is then made for the occasion.
"""

import ast
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

import walls

ROOT = Path(__file__).resolve().parent.parent
WORKERS = 2
LISTS = "walls"


@dataclass(frozen=True, slots=True)
class Breach:
    """One forbidden import: the wall that must find it, and the files to plant, by path below benchlog/."""

    wall: str
    files: dict[str, str]

    def __str__(self) -> str:
        return "; ".join(f"{place}: {lines}" for place, lines in self.files.items())


def _one(wall: str, room: str, name: str) -> Breach:
    """Plant `import name` in a new file of a room."""
    return Breach(wall, {f"{room}/planted.py": f"import {name}"})


def _each(wall: str, rooms: str, names: str) -> list[Breach]:
    """Plant each of the names in each of the rooms, one at a time."""
    return [_one(wall, room, name) for room in rooms.split() for name in names.split()]


UPWARD = {
    "commands": "__main__",
    "window": "commands.demo __main__",
    "recorder": "commands.demo window.planted",
    "report": "recorder.client instruments.bench store.query",
    "instruments": "recorder.client report.planted store.query",
    "store": "recorder.client instruments.bench",
    "electronics": "instruments.bench store.query",
    "domain": "electronics.planted instruments.bench store.query recorder.messages",
}

BREACHES: list[Breach] = [
    *(_one("layers", room, f"benchlog.{name}") for room, names in UPWARD.items() for name in names.split()),
    Breach("layers", {"textfile.py": "import benchlog.domain.reading"}),
    Breach("layers", {"resources.py": "import benchlog.domain.reading"}),
    Breach("layers", {"errors.py": "import benchlog.resources"}),
    Breach("layers", {"a_new_room/__init__.py": "", "a_new_room/planted.py": "import benchlog.errors"}),
    Breach(
        "no-loops",
        {
            "domain/planted.py": "import benchlog.domain.planted_too",
            "domain/planted_too.py": "import benchlog.domain.planted",
        },
    ),
    Breach("no-loops", {"folders.py": "import benchlog.logs"}),
    *_each(
        "simbench-apart", "simbench", "benchlog.domain.reading benchlog.instruments.bench benchlog.textfile"
    ),
    *_each("simbench-unknown", "recorder instruments", "benchlog.simbench.planted_too"),
    *_each("alarm-alone", "alarm", "benchlog.errors benchlog.recorder.client"),
    *_each(LISTS, "alarm", "numpy msgspec benchlog.errors"),
    *_each(LISTS, "simbench", "msgspec scipy serial benchlog.domain.reading"),
    *_each(
        "qt-window-only",
        "commands recorder report instruments store electronics domain simbench alarm",
        "PySide6",
    ),
    Breach(
        "qt-window-only",
        {"domain/planted.py": "def late():\n    from PySide6.QtCore import QObject\n    return QObject"},
    ),
    Breach("qt-window-only", {"resources.py": "import shiboken6"}),
    *_each("pyqtgraph-one-file", "window commands recorder", "pyqtgraph"),
    *_each("sqlite-store-only", "recorder commands window domain instruments simbench", "sqlite3"),
    *_each("sqlite-store-only", "recorder commands", "sqlite_utils"),
    *_each("workbook-one-file", "commands window domain", "openpyxl"),
    Breach("workbook-one-file", {"sheetfile.py": "import openpyxl"}),
    *_each("workbook-apart", "commands window", "benchlog.workbook"),
    *_each("serial-one-file", "instruments recorder simbench", "serial"),
    *_each("visa-one-file", "instruments recorder commands", "pyvisa"),
    *_each("recorder-store-light", "recorder", "benchlog.electronics.planted benchlog.report.planted scipy"),
    *_each("recorder-store-light", "store domain instruments alarm", "benchlog.electronics.planted scipy"),
    Breach(
        "recorder-store-light",
        {
            "recorder/planted.py": "import benchlog.instruments.planted",
            "instruments/planted.py": "import scipy.optimize",
        },
    ),
    Breach(
        "recorder-store-light",
        {"store/planted.py": "import benchlog.domain.planted", "domain/planted.py": "import scipy"},
    ),
    *_each("window-without-scipy", "window", "scipy benchlog.electronics.settling"),
    Breach(
        "window-without-scipy",
        {
            "window/planted.py": "import benchlog.electronics.planted",
            "electronics/planted.py": "from scipy.special import stdtrit",
        },
    ),
    *_each("append-recorder-only", "commands window simbench store", "benchlog.store.append"),
    *_each("edit-not-recorder", "recorder", "benchlog.store.edit benchlog.store.measured"),
    Breach(
        "edit-not-recorder",
        {
            "recorder/planted.py": "import benchlog.store.planted",
            "store/planted.py": "import benchlog.store.edit",
        },
    ),
    *_each("window-instruments", "window", "benchlog.instruments.dialogue benchlog.instruments.link_tcp"),
    *_each("window-recorder", "window", "benchlog.recorder.process benchlog.recorder.messages"),
    Breach(LISTS, {"recorder/planted.py": "import importlib\nimportlib.import_module('scipy')"}),
    Breach(LISTS, {"domain/planted.py": "__import__('scipy')"}),
]


class Tree:
    """A copy of the package in which breaches are planted and taken out again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        shutil.copytree(ROOT / "benchlog", folder / "benchlog", ignore=shutil.ignore_patterns("__pycache__"))
        shutil.copy(ROOT / "pyproject.toml", folder)
        with (ROOT / "pyproject.toml").open("rb") as file:
            contracts = tomllib.load(file)["tool"]["importlinter"]["contracts"]
        self.names = {contract["id"]: contract["name"] for contract in contracts}

    def plant(self, files: dict[str, str]) -> None:
        """Write or lengthen the files, and make what the planted lines name."""
        for place, lines in files.items():
            self._make_room(place)
            path = self.folder / "benchlog" / place
            before = path.read_text("utf-8") if path.exists() else ""
            path.write_text(f"{before}\n{lines}\n", "utf-8")
            for _, name in walls.imported(ast.parse(lines)):
                if name.startswith("benchlog."):
                    self._make_named("/".join(name.split(".")[1:]) + ".py")

    def restore(self) -> None:
        """Take everything planted out again."""
        shutil.rmtree(self.folder / "benchlog")
        shutil.copytree(
            ROOT / "benchlog", self.folder / "benchlog", ignore=shutil.ignore_patterns("__pycache__")
        )

    def found_by(self) -> tuple[set[str], str]:
        """Run both checks over the copy and give the walls that complain, with all they print."""
        environment = dict(os.environ, PYTHONPATH=str(self.folder), PYTHONDONTWRITEBYTECODE="1")
        command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
        answer = subprocess.run(
            command, cwd=self.folder, env=environment, capture_output=True, text=True, check=False
        )
        text = answer.stdout + answer.stderr
        found = {wall for wall, name in self.names.items() if f"{name} BROKEN" in text}
        if answer.returncode and not found:
            found.add("no verdict: " + text[-2000:])
        lists = walls.check(self.folder)
        return found | ({LISTS} if lists else set()), text + "\n".join(lists)

    def _make_room(self, place: str) -> None:
        room = (self.folder / "benchlog" / place).parent
        if not (room / "__init__.py").exists():
            room.mkdir(exist_ok=True)
            (room / "__init__.py").write_text('"""Made for a planted breach."""\n', "utf-8")

    def _make_named(self, place: str) -> None:
        path = self.folder / "benchlog" / place
        if not path.exists() and not path.with_suffix("").is_dir():
            self._make_room(place)
            path.write_text('"""Made for a planted breach."""\n', "utf-8")


def unfound(breaches: Sequence[Breach]) -> list[str]:
    """Plant each breach in turn and give one line per breach that its wall let through."""
    with tempfile.TemporaryDirectory(prefix="benchlog-walls-") as folder:
        free: SimpleQueue[Tree] = SimpleQueue()
        for number in range(WORKERS):
            free.put(Tree(Path(folder) / str(number)))

        def look(breach: Breach) -> str | None:
            tree = free.get()
            try:
                tree.plant(breach.files)
                found, _ = tree.found_by()
            finally:
                tree.restore()
                free.put(tree)
            return (
                None
                if breach.wall in found
                else f"{breach.wall} let through {breach} (found: {found or 'nothing'})"
            )

        tree = free.get()
        standing, text = tree.found_by()
        free.put(tree)
        if standing:
            return [f"the walls do not stand before anything is planted: {', '.join(standing)}\n{text}"]
        with ThreadPoolExecutor(WORKERS) as pool:
            return [line for line in pool.map(look, breaches) if line]


if __name__ == "__main__":
    missed = unfound(BREACHES)
    print("\n".join(missed) or f"Each of {len(BREACHES)} planted breaches was found by its own wall.")
    sys.exit(1 if missed else 0)
