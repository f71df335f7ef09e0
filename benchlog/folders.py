"""Where a person's own files lie: the library and the log, each overridable by environment."""

import os
from pathlib import Path

import platformdirs

LIBRARY_VARIABLE = "BENCHLOG_LIBRARY"
LOG_VARIABLE = "BENCHLOG_LOG_DIR"


def library(chosen: Path | None = None) -> Path:
    """Give the library's folder: the one chosen on the command line, else the environment's, else the usual."""
    if chosen is not None:
        return chosen.expanduser()
    named = os.environ.get(LIBRARY_VARIABLE)
    if named:
        return Path(named).expanduser()
    return platformdirs.user_data_path("benchlog", appauthor=False) / "library"


def demo_library(chosen: Path | None = None) -> Path:
    """Give the folder of the demo's library in the same way: the usual one is not that of real units."""
    if chosen is not None or os.environ.get(LIBRARY_VARIABLE):
        return library(chosen)
    return platformdirs.user_data_path("benchlog", appauthor=False) / "demo"


def logs() -> Path:
    """Give the log's folder: the environment's, else the usual."""
    named = os.environ.get(LOG_VARIABLE)
    if named:
        return Path(named).expanduser()
    return platformdirs.user_log_path("benchlog", appauthor=False)
