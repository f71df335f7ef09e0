"""The one rotating log of a process: what a bug left behind, for the day somebody asks."""

import logging
from logging.handlers import RotatingFileHandler
from pathlib import Path

from benchlog import folders

_SIZE = 1_000_000
_KEPT = 3


def start(process: str) -> Path | None:
    """Send this process's log records to its rotating file, such as `recorder.log`, and name that file.

    None where the folder cannot be written: a full disk must not keep anybody from switching off.
    """
    path = folders.logs() / f"{process}.log"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(path, maxBytes=_SIZE, backupCount=_KEPT, encoding="utf-8")
    except OSError:
        return None
    handler.setFormatter(logging.Formatter("%(asctime)s %(process)d %(levelname)s %(name)s: %(message)s"))
    top = logging.getLogger("benchlog")
    top.setLevel(logging.INFO)
    top.propagate = False
    for old in list(top.handlers):
        top.removeHandler(old)
        old.close()
    top.addHandler(handler)
    return path
