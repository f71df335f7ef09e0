"""The regulator board and the supply's outputs that feed it."""

from typing import Any

import pytest

from benchlog.simbench import truth
from benchlog.simbench.board import Board

STEP = 0.005


def board(fault: str = "healthy", limit: float = 0.25) -> tuple[Board, list[dict[str, Any]]]:
    found, seen = truth.load("board", fault), []

    def tell(saw: str, **about: Any) -> None:
        seen.append({"saw": saw, **about})

    made = Board(found.plus, found.minus, tell)
    for output in made.outputs:
        output.limit = limit
    return made, seen


def feed(made: Board, volts: float, seconds: float) -> Board:
    for output in made.outputs:
        output.set_volts = volts
        output.switch(True)
    return live(made, seconds)


def live(made: Board, seconds: float) -> Board:
    for _ in range(round(seconds / STEP)):
        made.step(STEP)
    return made


@pytest.mark.parametrize(
    ("volts", "regulated", "amps"), [(10.0, 7.5, 0.035), (15.0, 12.5, 0.052), (20.0, 15.0, 0.060)]
)
def test_healthy_board_by_raw_volts(volts: float, regulated: float, amps: float) -> None:
    made, _ = board()
    feed(made, volts, 5.0)
    assert made.measure("regulated plus", "dc") == pytest.approx(regulated, abs=0.05)
    assert made.measure("regulated minus", "dc") == pytest.approx(-regulated, abs=0.05)
    assert made.measure("raw minus", "dc") == pytest.approx(-volts, abs=0.05)
    assert all(output.amps == pytest.approx(amps, abs=0.003) for output in made.outputs)
    assert not any(output.limiting for output in made.outputs)
    assert made.level == volts


def test_short_makes_the_supply_limit_and_its_volts_fold() -> None:
    made, _ = board("shorted-output")
    feed(made, 10.0, 2.0)
    assert made.outputs[0].limiting
    assert made.outputs[0].amps == pytest.approx(0.25)
    assert made.outputs[0].volts < 1.0
    assert not made.outputs[1].limiting


def test_open_pass_device_leaves_one_output_down() -> None:
    made, _ = board("missing-rail")
    feed(made, 20.0, 5.0)
    assert made.measure("regulated minus", "dc") == pytest.approx(0.0, abs=0.3)
    assert made.measure("regulated plus", "dc") == pytest.approx(15.0, abs=0.1)
    assert made.outputs[1].amps < made.outputs[0].amps


def test_runaway_holds_still_below_full_volts_and_climbs_there() -> None:
    made, _ = board("runaway")
    feed(made, 10.0, 60.0)
    assert made.outputs[0].amps < 0.05
    feed(made, 15.0, 60.0)
    assert made.outputs[0].amps < 0.07
    feed(made, 20.0, 2.0)
    assert made.outputs[0].amps < 0.12
    beyond = 0
    for _ in range(round(60.0 / STEP)):
        made.step(STEP)
        beyond += made.outputs[0].amps > 0.12 and not made.outputs[0].limiting
    # Long enough beyond twice its current for a guard to say so before the supply limits.
    assert beyond * STEP > 3.0


def test_protection_fires_and_holds_off_until_cleared() -> None:
    made, seen = board()
    made.outputs[0].protection = 12.0
    feed(made, 15.0, 1.0)
    assert made.outputs[0].protected
    assert not made.outputs[0].on
    assert seen[-1] == {"saw": "output", "output": 1, "on": False, "why": "over-voltage protection"}
    made.outputs[0].switch(True)
    assert not made.outputs[0].on
    made.outputs[0].protected = False
    made.outputs[0].protection = 20.0
    made.outputs[0].switch(True)
    assert made.outputs[0].on


def test_off_pulls_the_volts_down() -> None:
    made, _ = board()
    feed(made, 20.0, 2.0)
    for output in made.outputs:
        output.switch(False)
    live(made, 1.0)
    assert made.outputs[0].volts < 1.0
    assert made.outputs[0].amps == 0.0
    assert made.level == 0.0
    assert not made.energised


def test_points_of_no_meaning_read_nothing() -> None:
    made, _ = board()
    assert made.measure("regulated plus", "ac") == 0.0
    assert made.measure("regulated plus", "celsius") == 25.0
    assert made.measure("nowhere", "dc") == 0.0
