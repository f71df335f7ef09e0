"""Slips of equal value are mended: readings move one part back, or one on; and sixty parts typed from the pad."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.hands_rig import HandsRig
from helpers.parts_rig import FakeRig, unit_file
from pytestqt.qtbot import QtBot

from benchlog.window.look import Look
from benchlog.window.shapes import Shape


@pytest.fixture
def row_of_six(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[HandsRig]:
    made = HandsRig(qtbot, look, tmp_path / "library")
    made.bring(unit_file((("Only", tuple(f"R{n} 4k7 5%" for n in range(1, 7))),)))
    made.open_bench()
    made.press(".\n")
    for n in range(1, 6):
        made.take(f"R{n}", 4700.0 + n)
    yield made
    made.close()


def values(rig: HandsRig) -> dict[str, float | None]:
    return {row.designator: row.kept.reading.value for row in rig.page.hand.book.rows if row.kept is not None}


def test_one_reading_too_many_goes_and_those_after_it_move_back(row_of_six: HandsRig) -> None:
    rig = row_of_six
    rig.go("R2")
    rig.press(".*")
    rig.until(lambda: "R5" not in values(rig))
    assert values(rig) == {"R1": 4701.0, "R2": 4703.0, "R3": 4704.0, "R4": 4705.0}
    assert rig.here == "R5"
    assert rig.page.hand.sentence == "R2 to R5: readings moved one part back. R5 is to do."
    assert rig.ahead() == ["R5", "R6"]
    stands = [(one.reading.designator, one.reading.value) for one in rig.stored() if not one.withdrawn]
    assert sorted(stands) == [("R1", 4701.0), ("R2", 4703.0), ("R3", 4704.0), ("R4", 4705.0)]
    assert all(one.judgement is not None for one in rig.stored() if not one.withdrawn)


def test_a_part_that_was_left_out_is_to_do_and_the_readings_move_on(row_of_six: HandsRig) -> None:
    rig = row_of_six
    rig.go("R4")
    rig.press("./")
    rig.until(lambda: "R6" in values(rig))
    assert values(rig) == {"R1": 4701.0, "R2": 4702.0, "R3": 4703.0, "R5": 4704.0, "R6": 4705.0}
    assert rig.here == "R4"
    rig.press(".*")
    assert rig.page.hand.sentence == "R4 has no reading: go to the first one that is wrong."
    rig.go("R5")
    rig.press("./")
    assert rig.page.hand.sentence.startswith("No part is left behind")


def test_readings_do_not_move_to_a_part_that_is_read_otherwise(
    qtbot: QtBot, look: Look, tmp_path: Path
) -> None:
    free = HandsRig(qtbot, look, tmp_path / "library")
    free.bring()
    free.open_bench()
    free.go("R106")
    free.press("~")
    for part, value in (("R106", 4700.0), ("R107", 10.0), ("C204", 1e-7)):
        free.take(part, value)
    free.go("R107")
    free.press(".*")
    assert free.page.hand.sentence == "R107 is read otherwise: take those back instead."
    assert len(values(free)) == 3
    free.close()


def test_sixty_parts_are_typed_from_the_pad_alone(qtbot: QtBot, look: Look, tmp_path: Path) -> None:
    rig = FakeRig(qtbot, look, tmp_path / "library")
    rig.bring(unit_file((("Only", tuple(f"R{n} 4k7 5%" for n in range(1, 61))),)))
    rig.page.hand.go(0)
    for n in range(60):
        rig.press(f"4.{600 + n}/" if n % 2 else f"{4600 + n}/")
    rig.until(lambda: rig.page.hand.book.done == 60)
    assert {row.designator: row.kept.reading.value for row in rig.page.hand.book.rows if row.kept} == {
        f"R{n + 1}": pytest.approx(4600.0 + n) for n in range(60)
    }
    assert rig.page.hand.book.counts() == [(Shape.GOOD, "within", 60)]
    rig.close()
