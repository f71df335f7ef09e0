"""The ladder: which rung is here, what was told and what was seen, when each stage was on."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.window.climb import Climb, Rung, on_in_words
from benchlog.window.ladder import SLIM, WIDE, Ladder
from benchlog.window.look import Look
from benchlog.window.shapes import Shape


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path)
    qtbot.addWidget(made.window)
    yield made
    made.close()


def rungs(rig: PowerUpRig) -> list[Rung]:
    return list(rig.page._climb.rungs(rig.runner.view))


def test_before_the_run_every_stage_is_to_do_with_what_the_source_is_set_to(rig: PowerUpRig) -> None:
    rig.checked()
    assert [(rung.name, rung.setting, rung.dwell) for rung in rungs(rig)][:2] == [
        ("10 %", "23 V", "0:20"),
        ("20 %", "46 V", "0:20"),
    ]
    assert {rung.shape for rung in rungs(rig)} == {Shape.TO_DO}


def test_told_and_seen_are_said_as_which(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=4.0)
    first, here, *ahead = rungs(rig)
    assert here.here
    assert here.known.startswith("told 46 V, seen 4")
    assert first.shape is Shape.GOOD
    assert first.known.startswith("told 23 V, seen 2")
    assert first.line == "0:00 to 0:08"
    assert not any(rung.known or rung.line for rung in ahead)


def test_a_setting_nobody_meters_is_told_and_not_seen(rig: PowerUpRig) -> None:
    rig.armed()
    rig.stage("moving", 0)
    rig.rest(0.1, 2.0, but=("mains",))
    rig.dwell(0, 5.0)
    assert rungs(rig)[0].known == "told 23 V"


def test_a_meter_that_fell_silent_shows_no_setting(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=4.0)
    rig.stage("moving", 1)
    rig.rest(0.2, 6.0, but=("mains",))
    rig.dwell(1, 5.0)
    assert rungs(rig)[1].known == "told 46 V"


def test_the_dwell_grows_with_its_time(rig: PowerUpRig) -> None:
    rig.climb(2, seconds=2.0)
    rig.dwell(2, 12.0)
    here = rungs(rig)[2]
    assert here.line == "0:18 of 0:30"
    assert here.share == pytest.approx(0.6)


def test_a_moving_source_is_said_on_its_rung(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=2.0)
    rig.stage("moving", 1)
    assert rungs(rig)[1].line == "source moving"


def test_the_stage_of_a_trip_is_marked_and_those_below_stay_good(rig: PowerUpRig) -> None:
    rig.climb(2, seconds=2.0)
    rig.trip("lamp 152 V, above its limit of 80.5 V")
    first, second, third, *ahead = rungs(rig)
    assert (first.shape, second.shape, third.shape) == (Shape.GOOD, Shape.GOOD, Shape.STOP)
    assert {rung.shape for rung in ahead} == {Shape.TO_DO}


def test_a_run_that_went_through_has_every_rung_good(rig: PowerUpRig) -> None:
    rig.climb(5, seconds=1.0)
    rig.off()
    rig.closed()
    assert {rung.shape for rung in rungs(rig)} == {Shape.GOOD}


def test_on_is_seen_by_a_meter_or_else_told(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=2.0)
    assert on_in_words(rig.runner.view, rig.now) == "on: seen by mains"
    rig.now += 60.0
    assert on_in_words(rig.runner.view, rig.now) == "on: no meter shows it yet"
    rig.event("told", "told: switch on done", prompt="switch_on", done=True)
    assert on_in_words(rig.runner.view, rig.now) == "on: told"


def test_a_new_run_begins_without_what_was_seen_before(rig: PowerUpRig) -> None:
    climb = Climb(seen={3: "138 V"})
    rig.checked()
    climb.look(rig.runner.view, rig.now)
    assert climb.seen == {}


@pytest.mark.parametrize("slim", [False, True])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_it_is_drawn_however_little_room_there_is(look: Look, qtbot: QtBot, slim: bool, theme: str) -> None:
    ladder = Ladder(look)
    qtbot.addWidget(ladder)
    look.set_theme(theme)
    try:
        ladder.be_slim(slim=slim)
        assert ladder.width() == (SLIM if slim else WIDE)
        many = tuple(
            Rung(
                f"{n} %",
                f"{n} V",
                "0:30",
                Shape.HERE if n == 20 else Shape.TO_DO,
                n == 20,
                "0:10 of 0:30",
                "told",
            )
            for n in range(30)
        )
        ladder.show_rungs(many)
        for tall in (1000, 640, 200):
            ladder.resize(ladder.width(), tall)
            first, last = ladder._shown()
            assert first <= 20 < last
            assert not ladder.grab().isNull()
        assert "20 %: here, 0:10 of 0:30" in ladder.accessibleDescription()
    finally:
        look.set_theme("light")
