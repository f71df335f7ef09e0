"""`benchlog decode`: markings at the terminal, as JSON and as a sentence, without loading anything heavy."""

import json
import subprocess
import sys
from typing import Any

import pytest

from benchlog.__main__ import main


def lines(capsys: pytest.CaptureFixture[str], *given: str) -> list[str]:
    assert main(["decode", *given]) == 0
    return capsys.readouterr().out.splitlines()


def documents(capsys: pytest.CaptureFixture[str], *given: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in lines(capsys, *given, "--json")]


def test_a_marking_is_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert documents(capsys, "4K7J") == [
        {"text": "4K7J", "kind": "resistor", "value": 4700.0, "unit": "ohm", "tolerance": [-0.05, 0.05]}
    ]
    assert documents(capsys, "0,22") == [
        {"text": "0,22", "kind": None, "value": 0.22, "unit": None, "tolerance": None}
    ]


def test_what_is_ambiguous_lists_its_choices(capsys: pytest.CaptureFixture[str]) -> None:
    (found,) = documents(capsys, "47K")
    assert (found["value"], found["unit"], found["kind"]) == (None, None, None)
    assert [(one["kind"], one["value"], one["tolerance"]) for one in found["choices"]] == [
        ("resistor", 47000.0, None),
        ("capacitor", 4.7e-11, [-0.1, 0.1]),
    ]
    assert documents(capsys, "47K", "--kind", "resistor")[0]["value"] == 47000.0


def test_each_text_is_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert lines(capsys, "4k7", "-38.9V", "-.61", "OL", "0.1u 625V", "100n M") == [
        "4k7: 4.7 kΩ, resistor",
        "-38.9V: -38.9 V",
        "-.61: -0.61",
        "OL: overload",
        "0.1u 625V: 100 nF, 625 V, capacitor",
        "100n M: 100 nF ±20 %, capacitor",
    ]
    assert lines(capsys, "47K") == [
        "47K: resistor 47 kΩ, or capacitor 47 pF ±10 % (in pF, K for its tolerance); say which"
    ]


def test_bands_need_no_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    assert lines(capsys, "brown", "black", "black", "red", "brown", "red") == [
        "brown black black red brown red: 10 kΩ ±1 %, 50 ppm/K, resistor"
    ]
    assert documents(capsys, "yellow violet red gold", "4k7")[0]["value"] == 4700.0
    assert documents(capsys, "brown black black red brown red")[0]["tempco_ppm"] == 50


def test_ratings_and_overload_stand_in_the_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert documents(capsys, "0.1u 625V")[0]["ratings"] == [{"value": 625.0, "unit": "V"}]
    assert documents(capsys, "- OL")[0]["overload"] == "-OL"


def test_all_that_mean_nothing_are_named_after_the_rest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["decode", "xyz", "4k7", "12q"]) == 2
    said = capsys.readouterr()
    assert said.out == "4k7: 4.7 kΩ, resistor\n"
    assert [line.split(":")[0] for line in said.err.splitlines()] == ['"xyz"', '"12q"']
    assert "Traceback" not in said.err


def test_it_loads_nothing_heavy() -> None:
    code = (
        "import sys, benchlog.commands.decode, benchlog.commands.judge;"
        "print([name for name in ('numpy', 'PySide6', 'msgspec', 'serial') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"
