"""The README's own profile reads an instrument, to the letter."""

import re
import shlex
from pathlib import Path

import pytest
from helpers.far_end import far_end

from benchlog.__main__ import main

README = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
SECTION = README.split("\n## An instrument of your own\n", 1)[1].split("\n## ", 1)[0]
ADDRESS = "tcp://192.0.2.7:4000"


def test_what_the_readme_says_is_done_and_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (profile,) = re.findall(r"```toml\n(.*?)```", SECTION, re.DOTALL)
    (command,) = re.findall(r"^ {4}\.venv/bin/benchlog (.*)$", SECTION, re.MULTILINE)
    (asked, answered) = re.search(r"is asked `(.*?)` and answers\n`(.*?)`", SECTION).groups()  # type: ignore[union-attr]
    (name,) = re.findall(r"write this as `(.*?)`", SECTION)
    monkeypatch.chdir(tmp_path)
    arguments = shlex.split(command)
    folder = Path(arguments[arguments.index("--library") + 1]) / "profiles"
    folder.mkdir(parents=True)
    (folder / name).write_text(profile, encoding="utf-8")
    with far_end(lambda line: f"{answered}\r\n".encode() if line == f"{asked}\r" else None) as far:
        status = main([far.address if one == ADDRESS else one for one in arguments])
    said = capsys.readouterr()
    assert (status, said.err) == (0, "")
    assert [line.split("  ", 1)[1] for line in said.out.splitlines()] == ["12.504 V ± 72.5 mV  volts_dc"] * 3
