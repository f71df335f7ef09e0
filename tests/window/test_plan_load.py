"""A plan is held against the good run of the unit at hand, and against another unit's never."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PLAN, SENTENCES, PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.domain.reference import Reference, Stood
from benchlog.domain.unit import Unit, Visit
from benchlog.recorder.client import messages
from benchlog.store import good_run, idle_marks
from benchlog.window.look import Look

RUN = Reference("2026-03-12", (Stood(230.0, 100.0, 20.0),))


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    yield made
    made.close()


@pytest.fixture
def kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library in which the unit `u` alone has a good run."""

    def of_text(_library: Path, unit: str, text: str) -> Reference | None:
        assert text == PLAN
        return RUN if unit == "u" else None

    monkeypatch.setattr(good_run, "of_text", of_text)


def asked(rig: PowerUpRig) -> list[Reference | None]:
    """The good runs that plans were loaded with so far."""
    return [one.reference for one in rig.link.of(messages.LoadPlan) if isinstance(one, messages.LoadPlan)]


def test_without_a_unit_there_is_none(rig: PowerUpRig, kept: None) -> None:
    rig.bench()
    rig.page._load(PLAN, "plan.toml")
    assert asked(rig) == [None]


def test_the_units_own_run_goes_with_the_plan(rig: PowerUpRig, kept: None, qtbot: QtBot) -> None:
    rig.bench()
    rig.shelf.open()
    rig.shelf.choose(Unit("u", "Hall amplifier"), None)
    rig.page._load(PLAN, "plan.toml")
    qtbot.waitUntil(lambda: asked(rig) == [RUN], timeout=20_000)


def test_another_unit_at_hand_has_the_plan_checked_anew(rig: PowerUpRig, kept: None, qtbot: QtBot) -> None:
    rig.bench()
    rig.shelf.open()
    rig.shelf.choose(Unit("u", "Hall amplifier"), None)
    rig.page._load(PLAN, "plan.toml")
    qtbot.waitUntil(lambda: asked(rig) == [RUN], timeout=20_000)
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    rig.shelf.choose(Unit("other", "Tuner"), None)
    qtbot.waitUntil(lambda: asked(rig) == [RUN, None], timeout=20_000)
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    rig.shelf.choose(Unit("other", "Tuner"), None)
    assert asked(rig) == [RUN, None]


def test_idles_of_another_visit_do_not_go_with_the_run(
    rig: PowerUpRig, kept: None, monkeypatch: pytest.MonkeyPatch, qtbot: QtBot
) -> None:
    monkeypatch.setattr(idle_marks, "set_in", lambda _, visit: ("idle L",) if visit == "first" else ())
    rig.bench()
    rig.shelf.open()
    unit = Unit("u", "Hall amplifier")
    rig.shelf.choose(unit, Visit("first", "u", 1, "hums", 230.0, "2026-03-12T10:00:00Z"))
    rig.page._load(PLAN, "plan.toml")
    qtbot.waitUntil(lambda: asked(rig) == [RUN], timeout=20_000)
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    assert rig.runner.view.idle_set == {"idle L"}
    rig.shelf.choose(unit, Visit("second", "u", 2, "hums again", 230.0, "2026-03-13T10:00:00Z"))
    qtbot.waitUntil(lambda: asked(rig) == [RUN, RUN], timeout=20_000)
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    assert rig.runner.view.idle_set == set()


def test_another_reference_has_the_plan_checked_anew(rig: PowerUpRig, kept: None, qtbot: QtBot) -> None:
    rig.bench()
    rig.shelf.open()
    rig.shelf.choose(Unit("u", "Hall amplifier"), None)
    rig.work.reference_changed.emit()
    rig.page._load(PLAN, "plan.toml")
    qtbot.waitUntil(lambda: asked(rig) == [RUN], timeout=20_000)
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    rig.work.reference_changed.emit()
    qtbot.waitUntil(lambda: asked(rig) == [RUN, RUN], timeout=20_000)


def test_the_idles_set_earlier_in_the_visit_go_with_the_run(rig: PowerUpRig) -> None:
    rig.bench()
    rig.runner.load_plan(PLAN, "plan.toml", idle_set=("idle R", "idle L"))
    rig.link.answer(messages.LoadPlan, sentences=SENTENCES)
    rig.runner.prove()
    rig.link.answer(messages.Prove, said=[])
    rig.runner.arm("folder")
    assert [request.idle_set for request in rig.link.of(messages.Arm)] == [["idle L", "idle R"]]  # type: ignore[attr-defined]
