"""While the drill is asked for nothing is shown as not held any more: it is about to fall on purpose."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.window.look import Look
from benchlog.window.numerals import numerals_of
from benchlog.window.shapes import Shape
from benchlog.window.waits import lines_of


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.show()
    yield made
    made.close()


def shapes(rig: PowerUpRig) -> set[Shape | None]:
    return {numeral.shape for numeral in numerals_of(rig.runner.view, rig.now, {})}


def test_in_a_drill_the_drill_is_what_is_awaited(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=4.0)
    plan = rig.runner.view.plan
    assert plan is not None
    waits = [("dwell 20 s", True, ""), *((f"wait {n}", True, "") for n in range(len(plan.stage[1].wait)))]
    rig.stage("ready", 1, waits=waits)
    assert Shape.GOOD in shapes(rig)
    fell = [waits[0], *((what, False, shown) for what, _, shown in waits[1:])]
    rig.stage("drill", 1, waits=fell)
    assert shapes(rig) == {None}
    lines = lines_of(rig.runner.view, rig.now, {})
    assert [(line.text, line.shape) for line in lines] == [
        ("before the next stage", None),
        ("the drill: off by your hand, and seen", Shape.HERE),
    ]
