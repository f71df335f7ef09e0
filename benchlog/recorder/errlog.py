"""Where a recorder's standard error goes, and the last thing it said there."""

import tempfile
from pathlib import Path
from typing import IO

_MOST = 1 << 20
"""Bytes after which the file is begun anew at a start."""
_TAIL = 4096


class ErrorLog:
    """A file that outlives the process which writes to it."""

    def __init__(self, folder: Path | None) -> None:
        self.file: IO[bytes] = _open(folder)
        self._begin = self.file.tell()

    def last_line(self) -> str:
        """The last line the process wrote since its start, empty where it wrote none."""
        end = self.file.seek(0, 2)
        self.file.seek(max(self._begin, end - _TAIL))
        said = self.file.read().decode(errors="replace").strip().splitlines()
        return said[-1].strip() if said else ""

    def close(self) -> None:
        """Let go of it."""
        self.file.close()


def _open(folder: Path | None) -> IO[bytes]:
    """The log file; a temporary one where none is wanted or the folder cannot be written.

    A full disk must not keep anybody from having a recorder that switches off.
    """
    if folder is not None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            file = (folder / "recorder-errors.log").open("ab+")
        except OSError:
            pass
        else:
            if file.tell() > _MOST:
                file.truncate(0)
            file.seek(0, 2)
            return file
    return tempfile.TemporaryFile()
