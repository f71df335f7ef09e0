"""`benchlog scan`: lists without a word to anybody, asks where it was told, and never hangs."""

import json
import sys
from collections.abc import Iterator

import pytest
from helpers.far_end import FarEnd, far_end, multimeter

from benchlog.__main__ import main
from benchlog.commands import scan


@pytest.fixture
def far() -> Iterator[FarEnd]:
    with far_end(multimeter()) as made:
        yield made


def printing(*lines: object) -> tuple[str, ...]:
    """A finding process that prints these."""
    printed = "\n".join(json.dumps(line) for line in lines)
    return (sys.executable, "-c", f"print({printed!r})")


def test_what_answers_at_an_address(far: FarEnd, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scan", "--ask", far.address, "--json"]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    told = json.loads(line)
    assert (told["address"], told["identity"], told["wrong"]) == (far.address, "FAR END,METER,0,1", "")
    assert "scpi-multimeter" in told["profiles"]


def test_what_is_found_is_told_in_words(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    port = {"address": "usb:0403:6001:A", "device": "COM4", "about": "Adapter"}
    asked = {"address": "COM3", "identity": "M,S,0,1", "profiles": ["one", "two"], "wrong": ""}
    command = printing({"step": "serial ports"}, {"found": port}, {"found": asked})
    monkeypatch.setattr(scan, "COMMAND", command)
    assert main(["scan"]) == 0
    first, second = capsys.readouterr().out.splitlines()
    assert first == "usb:0403:6001:A  COM4  Adapter"
    assert second == 'COM3  says "M,S,0,1"  profile: one or two'


def test_a_search_that_hangs_is_ended_and_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(scan, "LIST_SECONDS", 0.1)
    monkeypatch.setattr(scan, "COMMAND", (sys.executable, "-c", "import time; time.sleep(1000)"))
    assert main(["scan"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "the search did not end within 0.1 s (last: it was started)"


def test_nothing_found_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(scan, "COMMAND", (sys.executable, "-c", ""))
    assert main(["scan"]) == 0
    assert "--ask tcp://" in capsys.readouterr().out


def test_what_is_no_address_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scan", "--ask", "nowhere"]) == 2
    assert capsys.readouterr().err.startswith('--ask: "nowhere" is not an address')
