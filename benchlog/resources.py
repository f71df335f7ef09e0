"""Finds the files shipped beside the code: profiles, examples, the simulated bench's truth."""

from pathlib import Path

from benchlog.errors import BadInput

_HERE = Path(__file__).resolve().parent


def root(package: Path = _HERE) -> Path:
    """Give the folder of shipped files that belongs to `package`, the folder this code runs from.

    A wheel carries them inside the package as `_resources`; a checkout has them beside the package,
    where `pyproject.toml` shows that it is one (another package's `resources` may lie beside ours).
    """
    inside = package / "_resources"
    if inside.is_dir():
        return inside
    beside = package.parent / "resources"
    if beside.is_dir() and (package.parent / "pyproject.toml").is_file():
        return beside
    raise BadInput(str(inside), "the shipped files are missing", "install benchlog again")


def path(*parts: str, package: Path = _HERE) -> Path:
    """Give a shipped file or folder by its parts, such as `path("profiles", "scpi-meter.toml")`.

    BadInput where there is no such file, or where the parts lead out of the shipped files.
    """
    folder = root(package).resolve()
    found = folder.joinpath(*parts).resolve()
    shown = "/".join(parts)
    if not found.is_relative_to(folder):
        raise BadInput(shown, "leads out of the shipped files", "give a plain name")
    if not found.exists():
        raise BadInput(shown, "is not among the shipped files", _what_is_there(found.parent))
    return found


def _what_is_there(folder: Path) -> str:
    """Name what a person may have meant, as the fix of a fault."""
    names = sorted(entry.stem for entry in folder.iterdir()) if folder.is_dir() else []
    return f"there are: {', '.join(names)}" if names else "install benchlog again"
