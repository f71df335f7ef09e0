"""Checks what import-linter cannot say: which names from outside a room may use at all.

import-linter forbids by name, so a package nobody thought of would pass. Here each room has a short
list of what it may use, and everything else outside the standard library is refused.
"""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent

# Third-party names by room; a file's own line adds to its room's. The top level stands under "".
ROOM_MAY_USE = {
    "": set(),
    "alarm": set(),
    "commands": {"msgspec"},
    "domain": {"numpy"},
    "electronics": {"numpy", "scipy"},
    "instruments": set(),
    "recorder": {"msgspec"},
    "report": {"numpy", "jinja2"},
    "simbench": {"numpy"},
    "store": {"sqlite_utils", "msgspec", "numpy"},
    "window": {"PySide6", "shiboken6", "numpy", "msgspec"},
}
FILE_MAY_USE = {
    "folders.py": {"platformdirs"},
    "workbook.py": {"openpyxl"},
    "instruments/link_serial.py": {"serial"},
    "instruments/link_visa.py": {"pyvisa", "pyvisa_py"},
    "window/plot.py": {"pyqtgraph"},
}

# Rooms beside the others may use these of benchlog and nothing else of it.
ROOM_MAY_KNOW = {
    "alarm": ("benchlog.alarm",),
    "simbench": ("benchlog.simbench", "benchlog.errors", "benchlog.resources"),
}

# A name loaded by its text would pass every wall.
MAY_LOAD_BY_TEXT = {"__main__.py"}


def imported(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Give each import of a file as its line and full dotted name, wherever in the file it hides."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            # A relative import is refused by ruff; it is shown here as one of our own.
            module = node.module or "" if node.level == 0 else "benchlog"
            yield from ((node.lineno, f"{module}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Name) and node.id == "__import__":
            yield node.lineno, "importlib.import_module"


def complaint(place: str, name: str) -> str | None:
    """Say what is wrong with importing `name` in the file at `place` (below benchlog/), or None."""
    room = place.split("/", maxsplit=1)[0] if "/" in place else ""
    top = name.split(".", maxsplit=1)[0]
    if name in {"importlib", "importlib.import_module"} and place not in MAY_LOAD_BY_TEXT:
        return "loads by text, past every wall"
    if top == "benchlog":
        known = ROOM_MAY_KNOW.get(room)
        fine = known is None or any(f"{name}.".startswith(f"{one}.") for one in known)
        return None if fine else f"{room} may know only {', '.join(known or ())}"
    if top in sys.stdlib_module_names:
        return None
    if room not in ROOM_MAY_USE:
        return f"the room {room} is not in this script's table"
    allowed = ROOM_MAY_USE[room] | FILE_MAY_USE.get(place, set())
    return None if top in allowed else f"{top} is not for this room"


def check(root: Path) -> list[str]:
    """Look through every file of the package and give one line per breach."""
    package = root / "benchlog"
    found = []
    for path in sorted(package.rglob("*.py")):
        place = path.relative_to(package).as_posix()
        tree = ast.parse(path.read_text("utf-8"), filename=str(path))
        for line, name in imported(tree):
            wrong = complaint(place, name)
            if wrong:
                found.append(f"benchlog/{place}:{line}: {name}: {wrong}")
    return found


if __name__ == "__main__":
    breaches = check(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT)
    print("\n".join(breaches) or "Every room uses only what its list names.")
    sys.exit(1 if breaches else 0)
