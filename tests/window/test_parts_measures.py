"""Parts with several measures on the Parts page: what is to do, what one reading says of another, values in one go."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.parts_rig import FakeRig, unit_file
from pytestqt.qtbot import QtBot

from benchlog.recorder.client import messages
from benchlog.store import query_unit
from benchlog.window.keys import Action
from benchlog.window.look import Look

LINES = ("Q101", "Q201", "C105 electrolytic 4700u 20% 63V", "R101 47k 5%")
UNIT = replace(unit_file((("Board", LINES),)), mirror=("Q1## <-> Q2##",))


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring(UNIT)
    yield made
    made.close()


def names(rig: FakeRig) -> list[str]:
    return [row.designator for row in rig.page.hand.book.rows]


def stores(rig: FakeRig, keys: str, count: int) -> None:
    rig.press(keys)
    rig.until(lambda: len([one for one in rig.stored() if not one.withdrawn]) == count)
    rig.until(lambda: sum(len(row.readings) for row in rig.page.hand.book.rows) >= count)


def test_a_transistor_that_is_listed_is_three_readings_to_do_each_beside_that_of_the_other_side(
    rig: FakeRig,
) -> None:
    transistors = [name for name in names(rig) if name.startswith("Q")]
    assert transistors == ["Q101 ce", "Q101 be", "Q101 bc", "Q201 ce", "Q201 be", "Q201 bc"]
    rows = {row.designator: row for row in rig.page.hand.book.rows}
    other = rig.page.hand.book.other(rows["Q101 be"])
    assert other is rows["Q201 be"]
    assert rig.page.hand.book.counted().startswith("8 measurements at 4 parts: 8 to do")
    rig.line("Q201")
    assert rig.here == "Q201 ce"


def test_a_reading_taken_is_of_the_measure_at_hand(rig: FakeRig) -> None:
    rig.open_bench()
    rig.line("Q101 be")
    rig.press("\n")
    request = rig.link.of(messages.Take)[-1]
    assert isinstance(request, messages.Take)
    assert (request.designator, request.function, request.measure) == ("Q101 be", "diode", "be")


def test_a_short_from_collector_to_emitter_takes_the_good_word_of_the_junctions_back(rig: FakeRig) -> None:
    """Each is inside what any silicon junction reads; with C-E short neither counts."""
    rig.line("Q101 be")
    stores(rig, ".61\n", 1)
    rig.until(lambda: rig.reads("Q101 be") == "within")
    rig.line("Q101 ce")
    stores(rig, "0\n\n", 2)
    rig.until(lambda: rig.reads("Q101 ce") != "to do")
    rig.until(lambda: rig.reads("Q101 be") == "meter can't tell")
    rig.press("-")
    rig.until(lambda: rig.reads("Q101 be") == "within")


def test_more_is_measured_where_it_is_asked_for_by_a_line_and_by_a_key(rig: FakeRig) -> None:
    rig.line("C105 esr")
    rig.until(lambda: rig.here == "C105 esr")
    assert "C105 esr" in names(rig)
    rig.go("C105")
    rig.page.act(Action.MORE)
    rig.until(lambda: rig.here == "C105 d")
    unit = rig.work.shelf.unit
    assert unit is not None
    asked = [
        one.measure.word for one in query_unit.parts(rig.shelf.folder, unit.id) if "C1" in one.designator
    ]
    assert asked == ["", "d", "esr"]
    rig.line("Q101 be = .6")
    rig.until(lambda: rig.reads("Q101 be") == "within")


def test_an_lcr_meters_values_are_typed_in_one_go_at_the_frequency_that_was_said(rig: FakeRig) -> None:
    rig.go("C105")
    rig.line("@ 120 series with blue meter")
    assert rig.page.hand.lcr.shown == "blue meter, 120 Hz, series"
    stores(rig, "4650/.12/.03\n", 3)
    # On the board another one in parallel would read as good an ESR.
    rig.until(lambda: rig.reads("C105 esr") == "lift a leg")
    kept = {one.reading.measure: one.reading for one in rig.stored()}
    assert {word: round(one.value or 0.0, 6) for word, one in kept.items()} == {
        "": 0.00465,
        "d": 0.12,
        "esr": 0.03,
    }
    for one in kept.values():
        assert (one.job, one.typed) == ("blue meter", True)
        assert (one.conditions.frequency, one.conditions.model) == (120.0, "series")
    assert [rig.reads(name) for name in ("C105", "C105 d")] == ["within"] * 2
    # At another frequency the same figure is not held against a limit for this one.
    rig.line("C105 d = .4 @ 1k")
    rig.until(lambda: rig.reads("C105 d") == "meter can't tell")


def test_what_a_meter_on_a_wire_sends_beside_a_capacitance_goes_to_the_measures_that_are_to_do(
    rig: FakeRig,
) -> None:
    rig.open_bench()
    rig.line("C105 d")
    rig.until(lambda: rig.here == "C105 d")
    rig.go("C105")
    rig.press("\n")
    rig.taken(4650e-6, "F", beside={"dissipation": 0.12, "series_resistance": 0.03, "frequency": 120.0})
    rig.until(lambda: rig.reads("C105 d") == "within")
    kept = {one.reading.measure: one.reading for one in rig.stored()}
    assert list(kept) == ["", "d"]
    assert (kept["d"].value, kept["d"].conditions.frequency, kept["d"].typed) == (0.12, 120.0, False)


def test_without_a_frequency_the_slash_goes_on_to_the_next_part(rig: FakeRig) -> None:
    rig.go("C105")
    rig.press("4650")
    assert rig.page.current.caps.caps[Action.SKIP].does == "store, next"
    stores(rig, "/", 1)
    assert rig.here != "C105"
    assert rig.page.hand.sentence == (
        "C105 is stored alone: its D and ESR go behind it once the LCR meter's frequency is said, by Ctrl+K."
    )
    rig.line("@ 120 series")
    rig.go("C105")
    rig.press("4650")
    assert rig.page.current.caps.caps[Action.SKIP].does == "next value"


def test_a_leakage_is_typed_with_its_minutes_and_its_volts(rig: FakeRig) -> None:
    rig.line("C105 leakage = 9m/1/63")
    rig.until(lambda: rig.here == "C105 leakage")
    rig.page.listing.lift()
    rig.until(lambda: rig.page.hand.book.lifted)
    rig.until(lambda: len(rig.stored()) == 1)
    stores(rig, "9m/1/63\n", 2)
    rig.until(lambda: rig.reads("C105 leakage") == "not yet")
    stores(rig, "5m/2/63\n", 3)
    row = rig.page.hand.row
    assert row is not None
    rig.until(lambda: row.kept is not None and row.kept.reading.value == 5e-3)
    assert row.kept is not None
    assert row.kept.judgement is not None
    assert "falls by 44 % a minute" in row.kept.judgement.reason
    assert (row.kept.reading.conditions.minutes, row.kept.reading.conditions.applied) == (2.0, 63.0)
