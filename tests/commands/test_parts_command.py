"""`benchlog parts`: a sheet shown before it is taken in, nothing half, and the list of what a unit has."""

import io
import json
from pathlib import Path

import pytest
from helpers.sheets import FAULTS, SOUND, UGLY_PARTS, faulty, ugly

from benchlog.__main__ import BAD_INPUT, main
from benchlog.domain.unit import UnitFile
from benchlog.store import edit, query_unit
from benchlog.store.library import Library

Out = pytest.CaptureFixture[str]


@pytest.fixture
def library(tmp_path: Path) -> Path:
    folder = tmp_path / "library"
    with Library.open(folder) as held:
        edit.create_unit(held, UnitFile(name="Hall amplifier"))
    return folder


def benchlog(library: Path, *given: str) -> int:
    return main(["--library", str(library), "parts", *given])


def designators(library: Path, unit: str = "Hall amplifier") -> list[str]:
    found = query_unit.find_unit(library, unit)
    return list(dict.fromkeys(line.part.designator for line in query_unit.parts(library, found.id)))


def test_ten_kinds_of_fault_make_as_many_sentences_and_change_nothing_until_that_is_said(
    library: Path, tmp_path: Path, capsys: Out
) -> None:
    path = str(faulty(tmp_path / "faulty.xlsx"))
    assert benchlog(library, "import", "hall amplifier", path) == BAD_INPUT
    heard = capsys.readouterr()
    sentences = heard.err.splitlines()
    assert len(sentences) == len(FAULTS) >= 10
    for sentence, (number, problem) in zip(sentences, FAULTS.items(), strict=True):
        assert sentence.startswith(f"faulty.xlsx: row {number}: ")
        assert problem in sentence
    assert "nothing was changed" in heard.out
    assert designators(library) == []
    assert benchlog(library, "import", "hall amplifier", path, "--yes") == BAD_INPUT
    assert designators(library) == []
    assert "nothing was taken in" in capsys.readouterr().err
    assert benchlog(library, "import", "hall amplifier", path, "--yes", "--leave-faulty") == 0
    assert designators(library) == ["C1", "C2", "R1"]
    assert len(designators(library)) == SOUND
    with Library.open(library) as held:
        assert edit.undo(held) == "3 parts of faulty.xlsx"
    assert designators(library) == []


def test_an_ugly_list_comes_in_whole(library: Path, tmp_path: Path, capsys: Out) -> None:
    path = str(ugly(tmp_path / "ugly.xlsx"))
    assert benchlog(library, "import", "Hall amplifier", path, "--json") == 0
    shown = json.loads(capsys.readouterr().out)
    assert shown["faults"] == []
    assert not shown["taken"]
    assert {one["why"] for one in shown["left_out"]} == {
        "above the headings", "a note", "headings again", "not fitted", "a total"
    }  # fmt: skip
    assert benchlog(library, "import", "Hall amplifier", path, "--yes", "--json") == 0
    taken = json.loads(capsys.readouterr().out)
    assert taken["taken"]
    assert len(designators(library)) == len(taken["parts"]) == UGLY_PARTS
    by_name = {one["designator"]: one for one in taken["parts"]}
    assert (by_name["R101"]["low"], by_name["R101"]["high"]) == (44650.0, 49350.0)
    assert (by_name["R106"]["low"], by_name["R106"]["note"]) == (198.0, "run hot")
    assert (by_name["R108"]["low"], by_name["R108"]["high"]) == (900.0, 1200.0)
    assert (by_name["Q201 be"]["kind"], by_name["Q201 be"]["high"]) == ("transistor_junction", 0.7)


def test_a_semicolon_list_with_decimal_commas_comes_from_a_pipe(
    library: Path, capsys: Out, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "\ufeffBauteil;Wert (kΩ);Toleranz\r\nR1;4,7;5%\r\n\r\nR2;0,22;10%\r\nSumme;;2\r\n"
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
    assert benchlog(library, "import", "Radio", "-", "--yes", "--new", "--board", "Tuner") == 0
    assert designators(library, "Radio") == ["R1", "R2"]
    capsys.readouterr()
    assert benchlog(library, "list", "Radio", "r2", "tuner") == 0
    assert capsys.readouterr().out == "R2, resistor, should read 220 Ω ±10 %, on Tuner\n"
    assert benchlog(library, "list", "Radio", "--json") == 0
    first = json.loads(capsys.readouterr().out.splitlines()[0])
    assert (first["designator"], first["low"], first["board"]) == ("R1", 4465.0, "Tuner")


def test_columns_may_be_told_and_a_tolerance_for_all(library: Path, tmp_path: Path, capsys: Out) -> None:
    path = tmp_path / "list.csv"
    path.write_text("what,how much\nR1,4k7\nR2,1k\n", "utf-8")
    assert benchlog(library, "import", "Hall amplifier", str(path)) == BAD_INPUT
    assert "does not say how far it may be off" in capsys.readouterr().err
    assert benchlog(library, "import", "Hall amplifier", str(path), "--column", "2=left out") == 0
    assert "nothing says what it should read" in capsys.readouterr().out
    told = ("--column", "1=part", "--column", "2=value", "--tolerance", "5%")
    assert benchlog(library, "import", "Hall amplifier", str(path), *told, "--yes") == 0
    assert designators(library) == ["R1", "R2"]
    again = benchlog(library, "import", "Hall amplifier", str(path), *told)
    assert again == BAD_INPUT
    assert "R1 is on the list already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("column", "problem"), [("9=part", "names no column"), ("1=fish", "nothing a column holds")]
)
def test_a_column_that_is_none_is_told(
    library: Path, tmp_path: Path, capsys: Out, column: str, problem: str
) -> None:
    path = tmp_path / "list.csv"
    path.write_text("ref,value\nR1,4k7 5%\n", "utf-8")
    assert benchlog(library, "import", "Hall amplifier", str(path), "--column", column) == BAD_INPUT
    assert problem in capsys.readouterr().err


def test_a_unit_nobody_knows_is_not_made_unasked(library: Path, tmp_path: Path, capsys: Out) -> None:
    path = tmp_path / "list.csv"
    path.write_text("ref,value\nR1,4k7 5%\n", "utf-8")
    assert benchlog(library, "import", "Radio", str(path), "--yes") == BAD_INPUT
    assert "is no unit of this library" in capsys.readouterr().err
