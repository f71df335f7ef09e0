"""The near end finds a fault by its readings alone: nobody ever tells it what is wrong with the unit."""

import sys
from pathlib import Path

import pytest
from helpers.program import Running

from benchlog.store import query

FAULT = "shorted-output"


@pytest.mark.skipif(sys.platform == "win32", reason="a script cannot stand in Python's place there")
def test_neither_its_command_line_nor_its_surroundings_nor_a_message_tells_the_recorder_the_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # pytest tells every process which test runs.
    monkeypatch.delenv("PYTEST_CURRENT_TEST", raising=False)
    heard, library = tmp_path / "heard.txt", tmp_path / "library"
    demo = ("demo", "--headless", "--example", "board", "--fault", FAULT, "--speed", "20")
    with Running("helpers.overheard", heard, *demo, "--library", library, home=tmp_path) as running:
        ended = running.wait(hang=300.0)
    assert ended.status == 3, ended.err
    told = heard.read_text(encoding="utf-8")
    # It was told all that a recorder is told.
    for kind in ("hello", "open_bench", "take", "load_plan", "prove", "arm", "act", "beat"):
        assert f'"is":"{kind}"' in told, kind
    assert "BENCHLOG_LIBRARY=" in told
    assert "-m\nbenchlog.recorder\n" in told
    assert FAULT not in told
    assert FAULT.replace("-", "_") not in told
    (line,) = query.sessions(library)
    assert FAULT.encode() not in line.file.read_bytes()
