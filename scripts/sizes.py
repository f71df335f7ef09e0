"""Checks that files and functions stay small enough to be read in one sitting."""

import ast
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FILE_LINES = 450
FUNCTION_LINES = 60

# What may be longer, and why: "path" or "path::function" -> reason.
EXCEPTIONS: dict[str, str] = {}


def measure(root: Path) -> dict[str, int]:
    """Give the length in lines of each file ("path") and function ("path::name") that is too long."""
    found = {}
    for folder in ("benchlog", "scripts", "tests"):
        for path in sorted((root / folder).rglob("*.py")):
            text = path.read_text("utf-8")
            place = path.relative_to(root).as_posix()
            if len(text.splitlines()) > FILE_LINES:
                found[place] = len(text.splitlines())
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                    lines = (node.end_lineno or node.lineno) - node.lineno + 1
                    if lines > FUNCTION_LINES:
                        found[f"{place}::{node.name}"] = lines
    return found


def check(root: Path, exceptions: dict[str, str]) -> list[str]:
    """Give one line per thing too long, and one per exception that is needed no more."""
    long = measure(root)
    lines = [f"{place}: {length} lines" for place, length in long.items() if place not in exceptions]
    lines += [f"{place}: needs its exception no more" for place in exceptions if place not in long]
    return lines


if __name__ == "__main__":
    complaints = check(ROOT, EXCEPTIONS)
    print("\n".join(complaints) or f"No file over {FILE_LINES} lines, no function over {FUNCTION_LINES}.")
    sys.exit(1 if complaints else 0)
