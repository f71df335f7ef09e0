"""Where a person's files lie, and that a log that cannot be written keeps nobody from working."""

import logging
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchlog import folders, logs


@pytest.fixture(autouse=True)
def quiet_afterwards() -> Iterator[None]:
    """Close what a test opened, so that no later test writes there."""
    yield
    top = logging.getLogger("benchlog")
    for handler in list(top.handlers):
        top.removeHandler(handler)
        handler.close()


def test_the_command_line_outranks_the_environment_and_that_the_usual_place(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(folders.LIBRARY_VARIABLE, str(tmp_path / "named"))
    assert folders.library(tmp_path / "chosen") == tmp_path / "chosen"
    assert folders.library() == tmp_path / "named"
    monkeypatch.delenv(folders.LIBRARY_VARIABLE)
    assert folders.library().parts[-2:] == ("benchlog", "library")


def test_a_tilde_is_the_persons_home() -> None:
    assert folders.library(Path("~/units")) == Path.home() / "units"


def test_the_log_folder_follows_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(folders.LOG_VARIABLE, str(tmp_path))
    assert folders.logs() == tmp_path
    monkeypatch.delenv(folders.LOG_VARIABLE)
    assert "benchlog" in folders.logs().parts


def test_each_process_writes_a_log_of_its_own(own_folders: Path) -> None:
    path = logs.start("recorder")
    logging.getLogger("benchlog.recorder.poll").warning("the port went away")
    assert path == own_folders / "log" / "recorder.log"
    assert "WARNING benchlog.recorder.poll: the port went away" in path.read_text("utf-8")


def test_starting_twice_writes_each_line_once(own_folders: Path) -> None:
    logs.start("recorder")
    path = logs.start("recorder")
    logging.getLogger("benchlog").info("once")
    assert path is not None
    assert path.read_text("utf-8").count("once") == 1


def test_a_log_that_cannot_be_written_is_no_failure(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv(folders.LOG_VARIABLE, str(tmp_path / "file"))
    assert logs.start("recorder") is None
