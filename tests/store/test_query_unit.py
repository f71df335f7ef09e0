"""Units are found by what a person calls them; unknown and ambiguous names are refused with a hint."""

from pathlib import Path

import pytest
from helpers.library import stocked

from benchlog.domain.unit import UnitFile
from benchlog.errors import BadInput
from benchlog.store import edit, query_unit


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    stock = stocked(tmp_path)
    for serial in ("A1", "A2"):
        edit.create_unit(stock.library, UnitFile(name="kitchen radio", serial=serial))
    stock.library.close()
    return tmp_path


def test_units_come_by_name_whatever_their_case(folder: Path) -> None:
    names = [unit.name for unit in query_unit.units(folder)]
    assert names == ["Hall amplifier, two channels", "kitchen radio", "kitchen radio"]
    assert query_unit.units(folder)[1].mirror == ()


def test_a_unit_is_found_by_name_serial_or_id(folder: Path) -> None:
    amplifier, radio, _ = query_unit.units(folder)
    assert query_unit.find_unit(folder, " hall amplifier, two CHANNELS ") == amplifier
    assert query_unit.find_unit(folder, "0417") == amplifier
    assert query_unit.find_unit(folder, amplifier.id) == amplifier
    assert query_unit.find_unit(folder, "a1") == radio


def test_an_unknown_unit_is_refused_with_the_nearest_name(folder: Path) -> None:
    with pytest.raises(BadInput, match='did you mean "kitchen radio"'):
        query_unit.find_unit(folder, "kitchen rdio")
    with pytest.raises(BadInput, match="there are: Hall amplifier, two channels, kitchen radio"):
        query_unit.find_unit(folder, "xyz")
    with pytest.raises(BadInput, match="is no unit of this library"):
        query_unit.find_unit(folder, "")


def test_a_library_without_units_says_what_to_do(tmp_path: Path) -> None:
    stock = stocked(tmp_path)
    while edit.undo(stock.library):
        pass
    stock.library.close()
    with pytest.raises(BadInput, match="make it from its unit file first"):
        query_unit.find_unit(tmp_path, "anything")


def test_a_name_two_units_have_is_asked_about(folder: Path) -> None:
    with pytest.raises(BadInput, match="is the name of 2 units; give the serial number or the id"):
        query_unit.find_unit(folder, "Kitchen radio")
