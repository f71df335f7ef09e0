"""What the ear is told of a run: a hand that is wanted has its own tone, and nothing sounds where one listens."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.parts_rig import Ear
from helpers.powerup_rig import PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.window.look import Look


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    yield made
    made.close()


@pytest.fixture
def ear(rig: PowerUpRig) -> Ear:
    heard = Ear()
    rig.work.voice = heard
    return heard


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("set_dial", "Set the variable transformer to 20 %, 46.0 V."),
        ("switch_on", "Hands out. Switch the unit on."),
    ],
)
def test_a_hand_is_asked_for_once(rig: PowerUpRig, ear: Ear, kind: str, text: str) -> None:
    rig.armed()
    rig.prompt(kind, text)
    rig.page.refresh()
    rig.page.refresh()
    assert ear.heard == [("ask", text)]
    rig.runner.answer(yes=True)
    rig.page.refresh()
    rig.prompt(kind, text)
    rig.page.refresh()
    assert ear.heard == [("ask", text)] * 2


@pytest.mark.parametrize("kind", ["heard_alarm", "relay_clicked", "switch_off"])
def test_where_alarm_or_relay_are_listened_for_the_window_makes_no_sound(
    rig: PowerUpRig, ear: Ear, kind: str
) -> None:
    rig.armed()
    rig.prompt(kind, "Did you hear it?")
    rig.page.refresh()
    assert not ear.heard
