"""The last words of a recorder are found, and no broken log folder keeps one from starting."""

import subprocess
import sys
from pathlib import Path

from benchlog.recorder.errlog import ErrorLog


def say(log: ErrorLog, words: str) -> None:
    subprocess.run(
        [sys.executable, "-c", f"import sys; sys.stderr.write({words!r})"], stderr=log.file, check=True
    )


def test_the_last_line_is_that_of_this_start(tmp_path: Path) -> None:
    for words in ("Traceback\n  first\nValueError: one\n\n", ""):
        log = ErrorLog(tmp_path / "log")
        say(log, words)
        assert log.last_line() == ("ValueError: one" if words else "")
        log.close()
    assert (tmp_path / "log" / "recorder-errors.log").read_text().endswith("ValueError: one\n\n")


def test_without_a_folder_the_last_line_is_known_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    for folder in (None, tmp_path / "file"):
        log = ErrorLog(folder)
        say(log, "KeyError: 'x'\n")
        assert log.last_line() == "KeyError: 'x'"
        log.close()


def test_a_log_that_grew_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "recorder-errors.log"
    path.write_bytes(b"x" * (1 << 21))
    log = ErrorLog(tmp_path)
    say(log, "new\n")
    assert log.last_line() == "new"
    log.close()
    assert path.read_text() == "new\n"
