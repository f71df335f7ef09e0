"""A sheet of parts: what its columns hold, what each row is, and why a row cannot be taken in."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlog.domain.kind import Kind
from benchlog.domain.partsheet import PartSheet, read_sheet
from benchlog.domain.sheetheads import Column, guess, heading_of
from benchlog.sheetfile import Grid, Row, from_text


def understood(text: str, *, tolerance: str = "", known: dict[str, set[str]] | None = None) -> PartSheet:
    grid = from_text(text.strip("\n"))
    return read_sheet(grid, guess(grid), known, board="Main", tolerance=tolerance)


def parts(sheet: PartSheet) -> list[tuple[str, str, str]]:
    return [(one.entry.designator, one.entry.kind.value, one.entry.should_read) for one in sheet.parts]


def wrong(sheet: PartSheet) -> dict[int, str]:
    return {one.number: one.problem for one in sheet.faulty}


# --- headings ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "column", "unit"),
    [
        ("Ref", Column.PART, ""),
        ("Ref. Des.", Column.PART, ""),
        ("REF. NO.", Column.PART, ""),
        ("Part No.", Column.LEFT_OUT, ""),
        ("R (kΩ)", Column.VALUE, "kΩ"),
        ("C [µF]", Column.VALUE, "uF"),
        ("Value / kOhm", Column.VALUE, "kOhm"),
        ("Value in mV", Column.VALUE, "mV"),
        ("kΩ", Column.VALUE, "kΩ"),
        ("Tol. %", Column.TOLERANCE, "%"),
        ("±", Column.TOLERANCE, ""),
        ("%", Column.TOLERANCE, "%"),
        ("max value (V)", Column.HIGH, "V"),
        ("Min.", Column.LOW, ""),
        ("Should read", Column.SHOULD_READ, ""),
        ("Bauteil", Column.PART, ""),
        ("Toleranz", Column.TOLERANCE, ""),
        ("Qty", Column.COUNT, ""),
        ("Price per unit", Column.LEFT_OUT, ""),
        ("measured / k", Column.LEFT_OUT, "k"),
        ("gemessen (kΩ)", Column.LEFT_OUT, "kΩ"),
        ("ESR max (ohm)", Column.LEFT_OUT, "ohm"),
        ("something else", Column.LEFT_OUT, ""),
    ],
)
def test_a_heading_tells_what_its_column_holds_and_in_which_unit(
    text: str, column: Column, unit: str
) -> None:
    found = heading_of(text)
    assert (found.column, found.unit) == (column, unit)


def test_merged_headings_take_two_rows_and_hand_their_unit_down() -> None:
    sheet = understood("""
Part;Should read (kΩ);;;Note
;nominal;min;max;
R1;4.7;4.5;4.9;warm
R2;;9;11;
""")
    assert [one.column for one in sheet.layout.headings] == [
        Column.PART, Column.VALUE, Column.LOW, Column.HIGH, Column.NOTE
    ]  # fmt: skip
    assert parts(sheet) == [("R1", "resistor", "4.5kΩ..4.9kΩ"), ("R2", "resistor", "9kΩ..11kΩ")]
    assert sheet.parts[0].entry.note == "warm"


def test_a_title_above_the_headings_is_no_heading() -> None:
    sheet = understood("""
Left board,,
Ref,Value,Xyz
R1,4k7 5%,7
""")
    assert [one.column for one in sheet.layout.headings] == [Column.PART, Column.VALUE, Column.LEFT_OUT]
    assert [one.why for one in sheet.beside] == ["above the headings"]


def test_without_headings_the_cells_tell() -> None:
    sheet = understood("""
R1	4k7	5%	runs hot
R2	10k	5%
C1	100n	10%	film
""")
    assert parts(sheet) == [
        ("R1", "resistor", "4k7 5%"),
        ("R2", "resistor", "10k 5%"),
        ("C1", "capacitor", "100n 10%"),
    ]


def test_of_two_columns_that_could_name_parts_the_one_that_reads_so_does() -> None:
    sheet = understood("""
Part,Ref,Value
carbon,R1,4k7 5%
carbon,R2,4k7 5%
""")
    assert [one.entry.designator for one in sheet.parts] == ["R1", "R2"]


def test_a_sheet_that_names_no_parts_says_so_until_a_column_is_chosen() -> None:
    grid = from_text("colour,size\nred,4k7 5%\nblue,1k 5%\n")
    sheet = read_sheet(grid, guess(grid))
    assert str(sheet.faults()[0]) == "pasted: no column names the parts; choose the column that names them."
    layout = sheet.layout.with_column(0, Column.PART).with_column(1, Column.VALUE)
    chosen = read_sheet(grid, layout)
    assert not chosen.lacking
    assert layout.with_column(1, Column.PART).headings[0].column is Column.LEFT_OUT


# --- cells ---------------------------------------------------------------------------------------


def test_units_in_headings_stand_behind_bare_numbers_alone() -> None:
    sheet = understood("""
Ref;R (kΩ);C (µF);Tol (%)
R1;4.7;;5
R2;470R;;5
C1;;0.1;10
C2;;100;20
""")
    assert parts(sheet) == [
        ("R1", "resistor", "4.7kΩ 5%"),
        ("R2", "resistor", "470R 5%"),
        ("C1", "capacitor", "0.1uF 10%"),
        ("C2", "electrolytic", "100uF 20%"),
    ]
    assert sheet.parts[0].entry.expectation is not None
    assert sheet.parts[0].entry.expectation.nominal == 4700.0


def test_decimal_commas_are_read_as_such_where_some_can_be_nothing_else() -> None:
    sheet = understood("""
Bauteil;Wert (kΩ);Toleranz
R1;4,7;5%
R2;1,234;1%
R3;0,22;2,5%
""")
    assert [one.entry.should_read for one in sheet.parts] == ["4.7kΩ 5%", "1.234kΩ 1%", "0.22kΩ 2.5%"]
    assert "a comma is the decimal sign" in sheet.said
    alone = understood("Bauteil;Wert (kΩ);Toleranz\nR2;1,234;1%\n")
    assert "can be read in two ways" in wrong(alone)[2] or "more than one way" in wrong(alone)[2]


@pytest.mark.parametrize(
    ("tolerance", "should"),
    [
        ("5%", "4k7 5%"),
        ("5", "4k7 5%"),
        ("±5 %", "4k7 +/-5 %"),
        ("+20/-10%", "4k7 +20/-10%"),
        ("J", "4k7 J"),
    ],
)
def test_tolerances_are_written_in_many_ways(tolerance: str, should: str) -> None:
    sheet = understood(f"ref;value;tol\nR1;4k7;{tolerance}\n")
    assert wrong(sheet) == {}
    assert parts(sheet)[0][2] == should


def test_a_value_that_says_its_own_tolerance_keeps_it_and_a_default_serves_the_rest() -> None:
    text = "ref;value;kind\nR1;4k7 2%;\nR2;4K7J;\nR3;1k;\nC1;100u 63V;electrolytic\n"
    assert list(wrong(understood(text))) == [4, 5]
    sheet = understood(text, tolerance="20%")
    assert [one.entry.should_read for one in sheet.parts] == ["4k7 2%", "4K7J", "1k 20%", "100u 63V 20%"]


def test_kinds_are_told_by_a_word_among_others_or_by_the_designator() -> None:
    sheet = understood("""
ref;type;value
R1;metal film;1k 1%
R2;Resistor, carbon;1k 5%
C1;film capacitor;1u 10%
T1;transistor;0.5..0.7 V
E1;electrolytic;10u 20%
""")
    kinds = [one.entry.kind for one in sheet.parts]
    assert kinds == [
        Kind.RESISTOR, Kind.RESISTOR, Kind.FILM, Kind.TRANSISTOR, Kind.ELECTROLYTIC
    ]  # fmt: skip
    assert sheet.parts[0].entry.note == "metal film"


def test_a_rating_goes_to_the_marking() -> None:
    sheet = understood("ref;C (µF);V;tol\nC1;100;63;20%\n")
    (one,) = sheet.parts
    assert (one.entry.marking, one.entry.should_read) == ("100uF 63V", "100uF 20%")


# --- rows ----------------------------------------------------------------------------------------


def test_rows_that_are_no_parts_are_told_from_those_that_are_wrong() -> None:
    sheet = understood("""
ref,value,tol,qty

Left channel
R1,4k7,5%,1
note: the next ones run hot
R2,4k7,5%,1
ref,value,tol,qty
R3,not fitted
,47k,5%,
Total,,,3
,,,3
""")
    assert [one.entry.designator for one in sheet.parts] == ["R1", "R2"]
    assert [(one.number, one.why) for one in sheet.beside] == [
        (3, "a note"), (5, "a note"), (7, "headings again"), (8, "not fitted"), (10, "a total"), (11, "a total")
    ]  # fmt: skip
    assert wrong(sheet) == {9: "names no part"}


def test_runs_and_lists_in_a_cell_are_as_many_parts() -> None:
    sheet = understood('ref,value,tol,qty\n"R1, R2, R5-R7",1k,5%,5\n')
    assert [one.entry.designator for one in sheet.parts] == ["R1", "R2", "R5", "R6", "R7"]


def test_each_board_has_its_own_names() -> None:
    text = "board,ref,value\nLeft,R1,1k 5%\nRight,R1,1k 5%\n,R1,1k 5%\nleft,R2,1k 5%\n"
    sheet = understood(text, known={"left": {"r2"}})
    assert [(one.board, one.entry.designator) for one in sheet.parts] == [
        ("Left", "R1"), ("Right", "R1"), ("Main", "R1")
    ]  # fmt: skip
    assert wrong(sheet) == {5: "R2 is on the list already"}


def test_a_row_with_more_cells_than_headings_was_cut_in_the_wrong_place() -> None:
    sheet = understood("ref,value,tol\nR1,4k7,5%\nR2,4,7k,5%\n")
    assert wrong(sheet) == {3: "has 4 cells where the headings have 3"}


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ("R1,#REF!,5%", '"#REF!" is an error of the sheet'),
        ("R1,=B2*2,5%", '"=B2*2" is a formula without its result'),
        ("R1,1k,0.05", '"0.05" may be 0.05 % or 5 %'),
        ("R1,1k,about", '"about" is no tolerance'),
        ("R1,1k,500%", '"1k 500%" may be off by all of it'),
        ("R1,-10k,5%", '"-10k 5%" has less than 0 Ω'),
        ("X1,1k,5%", '"X1" does not tell what kind of part it is'),
    ],
)
def test_a_cell_that_cannot_be_meant_is_told(row: str, problem: str) -> None:
    assert wrong(understood(f"ref,value,tol\n{row}\n")) == {2: problem}


def test_limits_beside_a_value_that_is_none_do_not_hide_it() -> None:
    sheet = understood("ref,value,max\nC1,100u,150u\nC2,2026-04-07,150u\n")
    assert [one.entry.designator for one in sheet.parts] == ["C1"]
    assert wrong(sheet)[3].startswith('"2026-04-07"')


def test_lines_as_they_are_typed_come_in_too() -> None:
    sheet = understood("R301-R303 4k7 5%\n# the small ones\nC1 film 100n 10%\nfish\n")
    assert [one.entry.designator for one in sheet.parts] == ["R301", "R302", "R303", "C1"]
    assert [one.why for one in sheet.beside] == ["a note"]
    assert list(wrong(sheet)) == [4]


def test_stray_cells_beside_the_table_of_a_workbook_are_left_out() -> None:
    rows = (("ref", "value"), ("R1", "1k 5%", "", "scribble"))
    grid = Grid("book.xlsx", "row", tuple(Row(n, cells) for n, cells in enumerate(rows, start=1)))
    assert [one.entry.designator for one in read_sheet(grid, guess(grid)).parts] == ["R1"]


CELLS = st.sampled_from(
    ["", "R1", "R1-R3", "R9-R2", "C2, C3", "4k7", "4,7", "1,234", "1.2.3", "5%", "±5", "J", "0.05", "film", "x", "=A1",
     "#N/A", "Total", "DNP", "a note on the side", "12..15 mV", "min", "Value (kΩ)", "ref", "tol", "+20/-10%", "1e999",
     "9" * 90, "OL", "-", "Ω", "µ", "..", "R", "%"]
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(CELLS, min_size=1, max_size=6), min_size=1, max_size=12),
    st.sampled_from(["line", "row"]),
)
def test_whatever_stands_there_every_row_is_a_part_a_fault_or_told_to_be_none(
    rows: list[list[str]], counts: str
) -> None:
    grid = Grid("any", counts, tuple(Row(n, tuple(cells)) for n, cells in enumerate(rows, start=1)))
    for layout in (guess(grid), guess(grid).with_column(0, Column.PART)):
        sheet = read_sheet(grid, layout, board="Main", tolerance="5%")
        if sheet.lacking:
            continue
        found = {one.number for one in sheet.parts} | {one.number for one in sheet.beside}
        found |= set(wrong(sheet))
        heads = grid.rows[layout.body - layout.heads : layout.body]
        wanted = {row.number for row in grid.rows if not row.blank} - {row.number for row in heads}
        assert found == wanted
        assert not {one.number for one in sheet.parts} & set(wrong(sheet))
