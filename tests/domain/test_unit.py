"""A unit file is read whole, or refused with every fault at once; records say what they are."""

from pathlib import Path

import pytest
from helpers.library import UNIT

from benchlog.domain.expectation import Origin
from benchlog.domain.kind import Kind
from benchlog.domain.measures import MEASURES
from benchlog.domain.reading import Function
from benchlog.domain.unit import Part, UnitFile, Visit
from benchlog.errors import BadInput, TooNew
from benchlog.textfile import parse, read

EXAMPLES = sorted((Path(__file__).parents[2] / "resources" / "examples").glob("*/unit.toml"))


def faults(text: str) -> list[str]:
    with pytest.raises(BadInput) as refused:
        parse(text, "unit.toml", UnitFile)
    return [str(fault) for fault in refused.value.faults]


def test_a_unit_file_says_what_there_is() -> None:
    unit = parse(UNIT, "unit.toml", UnitFile)
    assert (unit.name, unit.maker, unit.model, unit.serial) == (
        "Hall amplifier, two channels",
        "Nordlicht",
        "NV-80",
        "0417",
    )
    assert (unit.mains, unit.complaint, unit.pairs) == (230.0, "left channel dead", {"D5": "D9"})
    left, right = unit.board
    assert [part.designator for part in left.part] == ["R110", "R9", "C4"]
    assert (right.part[0].note, right.part[0].in_circuit) == ("behind the sink", True)


def test_a_part_knows_what_it_should_read_and_with_what() -> None:
    (r110, r9, c4), (_, d9) = (board.part for board in parse(UNIT, "unit.toml", UnitFile).board)
    assert r110.expectation is not None
    assert (r110.expectation.low, r110.expectation.high, r110.expectation.unit) == (4465.0, 4935.0, "ohm")
    assert r110.expectation.origin is Origin.SHEET
    assert r9.expectation is not None
    assert (r9.expectation.origin, r9.expectation.low) == (Origin.COMPUTED, 1e6)
    assert c4.expectation is None
    assert d9.expectation is not None
    assert d9.expectation.unit == "V"  # a bare number is in the unit of the measurement
    assert [part.measured_with for part in (r110, c4, d9)] == [
        Function.OHMS,
        Function.CAPACITANCE,
        Function.DIODE,
    ]


def test_the_least_unit_file_is_a_name() -> None:
    unit = parse('file = "benchlog unit 1"\nname = "radio"\n', "unit.toml", UnitFile)
    assert (unit.board, unit.mirror, unit.mains, unit.serial) == ((), (), None, "")


def test_every_fault_is_told_at_once() -> None:
    text = """
file = "benchlog unit 1"
name = " "
mains = 23000.0
mirror = ["R1## <-> R2###", "no arrow"]

[[board]]
name = "left"
[[board.part]]
designator = "R1"
kind = "resistr"
[[board.part]]
designator = "R2"
kind = "resistor"
should_read = "about five"
[[board.part]]
designator = " "
kind = "fuse"

[[board]]
name = "right"
colour = "green"
"""
    found = "\n".join(faults(text))
    for expected in (
        "unit.toml: mains: ",
        "unit.toml: board[1].part[1].kind: ",
        'did you mean "resistor"?',
        "unit.toml: board[1].part[2].should_read: ",
        "about five",
        "unit.toml: board[1].part[3].designator: is empty",
        "unit.toml: board[2].colour: ",
    ):
        assert expected in found


def test_faults_of_the_whole_are_told_too() -> None:
    text = """
file = "benchlog unit 1"
name = ""
mirror = ["R1## <-> R2###", "no arrow"]
[[board]]
name = "left"
[[board]]
name = " Left "
[[board]]
name = ""
"""
    assert [fault.partition(";")[0] for fault in faults(text)] == [
        "unit.toml: name: is empty",
        "unit.toml: board[3].name: is empty",
        'unit.toml: board[2].name: " Left " stands here already',
        'unit.toml: mirror: "R1## <-> R2###" does not have the same # and * in the same order on both sides',
        'unit.toml: mirror: "no arrow" has no <->',
    ]


def test_a_designator_stands_once_on_a_board_but_on_every_board() -> None:
    part = '[[board.part]]\ndesignator = "{}"\nkind = "resistor"\n'
    header = 'file = "benchlog unit 1"\nname = "a"\n'
    two_boards = header + "".join(f'[[board]]\nname = "{name}"\n' + part.format("R1") for name in "ab")
    assert len(parse(two_boards, "unit.toml", UnitFile).board) == 2
    twice = header + '[[board]]\nname = "a"\n' + part.format("R1") + part.format("R2") + part.format("r1")
    assert faults(twice) == [
        'unit.toml: board[1].part[3].designator: "r1" stands on this board already; name each part once.'
    ]


def test_a_newer_file_is_refused_by_its_version() -> None:
    with pytest.raises((TooNew, BadInput), match="unit 2"):
        parse('file = "benchlog unit 2"\nnmae = 3\n', "unit.toml", UnitFile)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
def test_the_shipped_units_can_be_read(path: Path) -> None:
    assert read(path, UnitFile).board


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_is_measured_with_something_in_its_unit(kind: Kind) -> None:
    assert MEASURES[kind][0].unit in {kind.unit, "ohm"}


def test_a_part_is_measured_as_was_said() -> None:
    assert Part("", "", "C4", Kind.ELECTROLYTIC).measured_with is Function.CAPACITANCE
    assert Part("", "", "C4", Kind.ELECTROLYTIC, Function.OHMS).measured_with is Function.OHMS


MEASURES_OF = """file = "benchlog unit 1"
name = "a"
[[board]]
name = "left"
[[board.part]]
designator = "Q7L"
kind = "transistor"
measures = ["ce", "be", "eb"]
reads = { be = "0.55..0.7 V", volts = "0.6 V 10%" }
[[board.part]]
designator = "C4"
kind = "electrolytic"
marking = "4700u 63V"
should_read = "4700u 20%"
measures = ["value", "leakage"]
"""


def test_a_unit_file_may_say_what_is_measured_at_a_part_and_what_that_should_read() -> None:
    q7l, c4 = parse(MEASURES_OF, "unit.toml", UnitFile).board[0].part
    assert [one.word for one in q7l.asked] == ["ce", "be", "eb"]
    assert {word: one.high for word, one in q7l.expectations.items()} == {"be": 0.7, "volts": 0.66}
    assert [one.word for one in c4.asked] == ["", "leakage"]
    assert list(c4.expectations) == [""]


def test_measures_that_the_kind_has_not_are_named_with_their_place() -> None:
    wrong = MEASURES_OF.replace('"eb"]', '"esr"]').replace("be =", "d =").replace('"0.6 V 10%"', '"lots"')
    places = [one.split(": ")[1] for one in faults(wrong)]
    assert places == [f"board[1].part[1].{key}" for key in ("measures[3]", "reads.d", "reads.volts")]


def test_a_visit_is_shown_with_its_number() -> None:
    assert Visit("", "", 147, "", None, "").label == "visit 0147"
