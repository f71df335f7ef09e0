"""What is asked before a unit goes home: its open list, and what its parts still want."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.library import WITHIN, Stock, part_reading, stocked

from benchlog.domain.unit import RoundKind
from benchlog.domain.verdict import Verdict
from benchlog.store import edit
from benchlog.store.ids import new_id
from benchlog.window.handing_over import reasons_to_wait


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path / "library")
    yield made
    made.library.close()


def reasons(stock: Stock) -> tuple[str, ...]:
    """What speaks against handing it over."""
    return reasons_to_wait(stock.library.folder, stock.unit, stock.visit)


def test_a_unit_nobody_measured_and_with_nothing_open_may_go(stock: Stock) -> None:
    assert reasons(stock) == ()


def test_what_is_open_and_what_its_parts_want_is_named(stock: Stock) -> None:
    edit.open_item(stock.library, stock.visit.id, "link", "link across F1")
    found = part_reading(fitted=stock.fitted("R110"), visit=stock.visit.id, round=stock.round.id)
    edit.keep_reading(stock.library, found, WITHIN)
    assert reasons(stock) == (
        "Open list:\n•  link across F1\n1 thing not put back yet. Look at each before it goes.",
        "Of its parts: 1 not read as left.",
    )
    left = edit.start_round(stock.library, stock.visit.id, RoundKind.AS_LEFT)
    high = replace(WITHIN, verdict=Verdict.HIGH)
    edit.keep_reading(stock.library, replace(found, id=new_id(), round=left.id), high)
    assert reasons(stock)[1] == "Of its parts: 1 out."
