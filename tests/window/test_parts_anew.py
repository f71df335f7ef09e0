"""A part judged anew by another measure: in each round beside what was read there, and what follows from it too."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.library import Stock, part_reading, stocked

from benchlog.domain.expectation import Origin
from benchlog.domain.measures import ESR, D
from benchlog.domain.partline import read_line
from benchlog.domain.reading import Function
from benchlog.domain.unit import Conditions, RoundKind
from benchlog.domain.verdict import Verdict
from benchlog.store import edit, measured, query_unit
from benchlog.store.ids import new_id
from benchlog.store.query_unit import PartLine
from benchlog.window.parts_anew import Pair, judged_anew, should_read


@pytest.fixture
def stock(tmp_path: Path) -> Iterator[Stock]:
    made = stocked(tmp_path / "library")
    yield made
    made.library.close()


def lines_of(stock: Stock, designator: str) -> list[PartLine]:
    """A part's measures, its own value first."""
    found = query_unit.parts(stock.library.folder, stock.unit.id)
    return [one for one in found if one.part.designator == designator]


def read(stock: Stock, line: PartLine, value: float, unit: str, round_: str = "") -> str:
    """Keep a reading of a measure, out of circuit at 100 Hz; its id."""
    id_ = new_id()
    reading = part_reading(
        line.part.designator,
        value,
        id=id_,
        fitted=line.fitted.id,
        visit=stock.visit.id,
        round=round_ or stock.round.id,
        measure=line.measure.word,
        conditions=Conditions(circuit="out", frequency=100.0),
    )
    function = Function.CAPACITANCE if unit == "F" else Function.OHMS
    edit.keep_reading(stock.library, replace(reading, unit=unit, function=function))
    return id_


def test_every_round_is_judged_for_itself(stock: Stock) -> None:
    (line,) = lines_of(stock, "R110")
    (other,) = lines_of(stock, "R210")
    first = read(stock, line, 2210.0, "ohm")
    left = edit.start_round(stock.library, stock.visit.id, RoundKind.AS_LEFT)
    second = read(stock, line, 4700.0, "ohm", left.id)
    pairs = should_read([Pair(line, other)], "2k2 5%", Origin.MARKING)
    found = {one.reading: one for one in judged_anew(stock.library.folder, stock.visit, pairs)}
    assert found[first].judgement.verdict is Verdict.WITHIN
    assert found[second].judgement.verdict is Verdict.HIGH
    assert found[first].expected == "2k2 5%"


def test_what_was_taken_back_or_belongs_to_another_item_is_left_alone(stock: Stock) -> None:
    (line,) = lines_of(stock, "R110")
    gone = read(stock, line, 2210.0, "ohm")
    edit.withdraw(stock.library, [gone], "slipped")
    edit.fit(stock.library, line.part.id, "4k7 1%", "drifted")
    (now,) = lines_of(stock, "R110")
    assert judged_anew(stock.library.folder, stock.visit, should_read([Pair(now)], "2k2 5%", "marking")) == ()


def test_a_measure_whose_limits_follow_from_it_is_judged_anew_with_it(stock: Stock) -> None:
    entry = read_line("C9 electrolytic 10u 63V 20%").entry
    board = query_unit.boards(stock.library.folder, stock.unit.id)[0]
    part = edit.add_part(stock.library, board.id, entry).part
    measured.call_up(stock.library, part, [ESR])
    lines = {one.measure.word: one for one in lines_of(stock, "C9")}
    own = read(stock, lines[""], 1e-6, "F")
    esr = read(stock, lines[ESR], 30.0, "ohm")
    pairs = [Pair(lines[""]), *(Pair(one) for word, one in lines.items() if word in (ESR, D))]

    def proves(text: str) -> dict[str, Verdict]:
        anew = judged_anew(stock.library.folder, stock.visit, should_read(pairs, text, Origin.SHEET))
        return {one.reading: one.judgement.verdict for one in anew}

    # A larger one has less in series: what is high for 10 uF is usual for 1 uF.
    assert proves("10u 20%") == {own: Verdict.LOW, esr: Verdict.HIGH}
    assert proves("1u 20%") == {own: Verdict.WITHIN, esr: Verdict.WITHIN}


def test_what_proves_the_same_as_before_is_judged_anew_for_the_measure_itself_alone(stock: Stock) -> None:
    (line,) = lines_of(stock, "R110")
    read(stock, line, 4700.0, "ohm")
    pairs = should_read([Pair(line)], "4k7 10%", Origin.SHEET)
    (first,) = judged_anew(stock.library.folder, stock.visit, pairs)
    edit.judge_reading(stock.library, first.reading, first.judgement, first.expected)
    assert len(judged_anew(stock.library.folder, stock.visit, pairs)) == 1
    unknown = judged_anew(stock.library.folder, stock.visit, should_read([Pair(line)], "", Origin.SHEET))
    assert [one.expected for one in unknown] == [""]
