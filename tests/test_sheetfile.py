"""Sheets from files: what stands between cells, marks at the beginning, quotes, workbooks, and what is refused."""

import zipfile
from pathlib import Path

import pytest
from helpers.sheets import workbook
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from benchlog import sheetfile
from benchlog import workbook as packed_reader
from benchlog.errors import BadInput
from benchlog.sheetfile import MOST_ROWS, from_text, is_table, read
from benchlog.workbook import Unreadable
from benchlog.workbook import read as read_workbook


def cells(text: str) -> list[tuple[str, ...]]:
    return [row.cells for row in from_text(text).rows]


@pytest.mark.parametrize("sign", ["\t", ";", ",", "|"])
def test_the_sign_between_cells_is_told_by_most_lines(sign: str) -> None:
    text = "a title\n" + "\n".join(sign.join(("R1", "4k7", "5%")) for _ in range(3))
    assert cells(text)[1:] == [("R1", "4k7", "5%")] * 3


def test_semicolons_go_before_decimal_commas() -> None:
    assert cells("ref;value;tol\nR1;4,7;5\nR2;2,2;5\n") == [
        ("ref", "value", "tol"), ("R1", "4,7", "5"), ("R2", "2,2", "5")
    ]  # fmt: skip


def test_a_spreadsheets_own_word_for_the_sign_counts() -> None:
    found = from_text("sep=;\nR1;a,b,c\nR2;d,e,f\n")
    assert [(row.number, row.cells) for row in found.rows] == [(2, ("R1", "a,b,c")), (3, ("R2", "d,e,f"))]


def test_quotes_hold_signs_and_line_ends_and_lines_keep_their_numbers() -> None:
    found = from_text('ref,note\r\nR1,"hot,\r\nselected"\r\nR2,3/4" pitch\r\n')
    assert [(row.number, row.cells) for row in found.rows] == [
        (1, ("ref", "note")), (2, ("R1", "hot, selected")), (4, ("R2", '3/4" pitch'))
    ]  # fmt: skip


def test_a_quote_that_is_never_closed_is_told_with_its_line() -> None:
    with pytest.raises(BadInput, match="line 2: opens a quote that is never closed"):
        from_text('ref,note\nR1,"hot\nR2,cold\nR3,cold\n')


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ("R1;4,7 kΩ\nR2;1 kΩ\n".encode("utf-8-sig"), ""),
        ("R1\t4,7 kΩ\r\nR2\t1 kΩ\r\n".encode("utf-16"), ""),
        ("R1;4,7 µF\nR2;1 µF\n".encode("cp1252"), "read as Windows text, not UTF-8"),
    ],
)
def test_files_of_every_spreadsheet_are_read(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(data)
    found = read(path)
    assert found.rows[0].cells[0] == "R1"
    assert found.rows[0].cells[1] in ("4,7 kΩ", "4,7 µF")
    assert (said in found.said) is bool(said)


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"", "has nothing in it"),
        (b" ;;\n\n", "has nothing in it"),
        (b"R1;\x00\n", "is not text"),
        (b"\xd0\xcf\x11\xe0 old", "a workbook of the old kind"),
        (b"R1;" + b"9" * 3000 + b"\nR2;1\n", "has a cell of 3000 characters"),
        (b"R1\n" * (MOST_ROWS + 1), "has more than 20000 lines"),
    ],
)
def test_what_is_no_list_is_refused_in_one_sentence(tmp_path: Path, data: bytes, problem: str) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(data)
    with pytest.raises(BadInput, match=problem):
        read(path)
    with pytest.raises(BadInput, match="cannot be read"):
        read(tmp_path / "none.csv")


def test_a_table_cannot_go_into_a_field_for_one_line() -> None:
    assert is_table("R1\t4k7")
    assert is_table("R1 4k7\nR2 4k7")
    assert not is_table("R1 4k7 5%\n")


# --- workbooks -----------------------------------------------------------------------------------


def test_a_workbook_is_read_by_a_process_of_its_own(tmp_path: Path) -> None:
    path = workbook(tmp_path / "list.xlsx", [["ref", "value"], [], ["R1", 4700]], ["A1:A2"])
    found = read(path)
    assert (found.name, found.counts, found.sheet) == ("list.xlsx", "row", "Sheet")
    assert [(row.number, row.cells) for row in found.rows] == [
        (1, ("ref", "value")),
        (2, ()),
        (3, ("R1", "4700")),
    ]
    (tmp_path / "broken.xlsx").write_bytes(path.read_bytes()[:200])
    with pytest.raises(Unreadable, match="is no workbook that can be read"):
        read_workbook(tmp_path / "broken.xlsx")


def test_cells_come_as_a_person_reads_them(tmp_path: Path) -> None:
    made = Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.append(["R1", 0.1 + 0.2, 0.05, True, "=1+1", "a\nb", 4.7e-06])
    sheet["C1"].number_format = "0.0%"
    made.create_sheet("Second").append(["x"])
    path = tmp_path / "list.xlsx"
    made.save(path)
    found = read_workbook(path)
    assert found["rows"] == [(1, ["R1", "0.3", "5%", "yes", "=1+1", "a b", "0.0000047"])]
    assert found["sheets"] == ["Sheet", "Second"]
    assert read_workbook(path, "Second")["rows"] == [(1, ["x"])]
    with pytest.raises(Unreadable, match="has no sheet"):
        read_workbook(path, "Third")


def test_an_empty_first_sheet_is_passed_over_and_a_far_last_row_costs_nothing(tmp_path: Path) -> None:
    made = Workbook()
    second = made.create_sheet("Parts")
    second["A1"] = "R1"
    second["A40000"] = " "
    path = tmp_path / "list.xlsx"
    made.save(path)
    found = read_workbook(path)
    assert (found["sheet"], found["rows"]) == ("Parts", [(1, ["R1"])])
    second["A30000"] = "R2"
    made.save(path)
    with pytest.raises(Unreadable, match="has more than 20000 rows"):
        read_workbook(path)


def test_what_unpacks_to_too_much_is_refused_before_it_is_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packed_reader, "LARGEST_UNPACKED", 2 << 20)
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/workbook.xml", "<x/>")
        packed.writestr("xl/sharedStrings.xml", bytes(3 << 20))
    assert path.stat().st_size < 1 << 16
    with pytest.raises(Unreadable, match="unpacks to more than 2 MiB"):
        read_workbook(path)


def test_a_packed_file_that_is_no_workbook_says_so(tmp_path: Path) -> None:
    path = tmp_path / "other.xlsx"
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("content.xml", "<x/>")
    with pytest.raises(Unreadable, match="a sheet of another kind"):
        read_workbook(path)
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("xl/workbook.xml", "<not closed")
    with pytest.raises(Unreadable, match="is no workbook that can be read"):
        read_workbook(path)


def test_the_caps_of_both_readers_agree() -> None:
    assert (sheetfile.MOST_ROWS, sheetfile.MOST_CELLS, sheetfile.LONGEST_CELL) == (
        packed_reader.MOST_ROWS, packed_reader.MOST_CELLS, packed_reader.LONGEST_CELL
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet='R14k7,;\t|"\n\r %Ωµ=\x0b\u2028', max_size=80))
def test_any_text_is_a_sheet_or_a_sentence(text: str) -> None:
    try:
        found = from_text(text)
    except BadInput as error:
        assert error.problem
        return
    assert [row.number for row in found.rows] == sorted({row.number for row in found.rows})
