"""Which readings of a resistor stand for the sheet's figure when an idle current is reckoned from a drop."""

import contextlib
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from helpers.library import part_reading, stocked

from benchlog.domain.reading import Function
from benchlog.store import edit, query_unit, resistors_read


def test_of_a_resistor_that_was_replaced_no_reading_is_used(tmp_path: Path) -> None:
    folder, now = tmp_path / "library", datetime.now(UTC)
    stock = stocked(folder)
    with contextlib.closing(stock.library) as library:
        read = part_reading("R110", 0.31, visit=stock.visit.id, fitted=stock.fitted("R110"))
        edit.keep_reading(library, replace(read, function=Function.OHMS_4W))
        before = resistors_read.read_in(folder, stock.visit.id, ["r110"], now)
        assert [(one.ohms, one.four_wire) for one in before] == [(0.31, True)]
        (part,) = [
            line.part.id for line in query_unit.parts(folder, stock.unit.id) if line.part.designator == "R110"
        ]
        edit.fit(library, part, "R22", "drifted", stock.visit.id)
        assert resistors_read.read_in(folder, stock.visit.id, ["R110"], now) == ()
