"""Where things lie in a library folder, and what belongs to each session file."""

from pathlib import Path

LIBRARY_FILE = "library.db"
SESSIONS = "sessions"
"""The folder of session files within a library."""
BIN = "bin"
"""The folder of session files that were deleted and can be brought back."""


def lock_path(path: Path) -> Path:
    """The file whose lock says that the recorder of the session at `path` lives."""
    return path.with_name(path.name + ".lock")


def beside(path: Path) -> tuple[Path, ...]:
    """What SQLite keeps beside a database that was not closed; without it what was committed last is lost."""
    return tuple(path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal"))


def session_files(library: Path) -> list[Path]:
    """Every session file of a library, oldest first; an absent folder holds none."""
    return sorted((library / SESSIONS).glob("*.db"))
