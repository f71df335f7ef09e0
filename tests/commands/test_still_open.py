"""What a power-up from a terminal says of the unit's open list, beside the check of its plan."""

from pathlib import Path

from helpers.library import stocked

from benchlog.commands.powerup import still_open
from benchlog.store import edit


def test_what_is_open_is_said_of_the_named_unit_alone(tmp_path: Path) -> None:
    stock = stocked(tmp_path / "library")
    edit.open_item(stock.library, stock.visit.id, "link", "link across F1")
    folder = stock.library.folder
    stock.library.close()
    assert still_open(folder, stock.visit) == ("Still open, link across F1: what it bridges does nothing.",)
    assert still_open(folder, None) == ()
