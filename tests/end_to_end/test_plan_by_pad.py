"""From a new unit's six numbers to live, by the number pad alone, with the meters of the simulated bench."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from driven import Driven
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from route import Camera, intake

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.window import words
from benchlog.window.plan_new import At
from benchlog.window.powerup_page import PowerUpPage
from benchlog.window.run_view import Phase

PAD = {
    "|": Qt.Key.Key_Enter,
    "+": Qt.Key.Key_Plus,
    "-": Qt.Key.Key_Minus,
    ".": Qt.Key.Key_Period,
    **{str(digit): Qt.Key(Qt.Key.Key_0 + digit) for digit in range(10)},
}
"""The keys of a number pad; Enter as it stands in what is typed."""
NUMBERS = "2||44||16.5|.33||"
"""Behind a lamp; mains, channels and lamp as they are offered."""


class Blind(Camera):
    """Takes no pictures."""

    def take(self, driven: Driven, station: str) -> None:
        driven.settle()


@pytest.fixture
def hall(monkeypatch: pytest.MonkeyPatch, qapp: QApplication, tmp_path: Path) -> Iterator[Driven]:
    monkeypatch.setenv("BENCHLOG_MUTE", "1")
    driven = Driven.simulating(tmp_path / "workshop", "amplifier")
    yield driven
    driven.close()


def test_from_the_choice_of_a_plan_to_live_by_the_number_pad_alone(hall: Driven, tmp_path: Path) -> None:
    intake(hall, Blind(tmp_path, "1"))
    hall.key(Qt.Key.Key_F5)
    hall.phase(Phase.CHECKED)
    page = hall.frame.pages[words.POWER_UP]
    assert isinstance(page, PowerUpPage)
    form = page.choice.new
    hall.key(PAD["-"], PAD["+"])
    hall.until(lambda: form.meters.count() == 10, "the meters of the bench")
    for key in NUMBERS:
        hall.key(PAD[key])
    assert form.at is At.METERS
    hall.key(PAD["|"])
    hall.until(
        lambda: (
            hall.view.plan is not None and hall.view.plan.name == "Variable transformer behind a 100 W lamp"
        ),
        "the check of the plan",
    )
    kept = tmp_path / "workshop" / "plans" / "hall-amplifier-two-channels.toml"
    assert textfile.read(kept, Plan) == hall.view.plan
    assert any("from fault to off at worst" in said for said in hall.view.sentences)
    hall.leave(Phase.CHECKED, PAD["|"])
    hall.obey_until(lambda: hall.view.phase is Phase.PROVEN, "the proof")
    hall.leave(Phase.PROVEN, PAD["|"])
    hall.climb(lambda: hall.view.stage is not None and hall.view.stage.index >= 1)
    assert hall.view.is_live
    hall.key(Qt.Key.Key_F12)
    hall.until(lambda: hall.view.seen_off, "the off")
