"""The recorder ends by itself: what waits for its answer hears so, and nothing it had proven is still shown."""

from collections.abc import Callable
from typing import cast

import pytest
from helpers.window_rig import EXAMPLE, bench
from pytestqt.qtbot import QtBot

from benchlog.errors import WATCH, BenchlogError
from benchlog.recorder.client import Recorder, messages
from benchlog.window.link import Link
from benchlog.window.run_view import Phase
from benchlog.window.runner import Runner

PLAN = (EXAMPLE / "plan.toml").read_text("utf-8")


class Mortal:
    """As much of a recorder as the link uses; it answers nothing by itself."""

    def __init__(self) -> None:
        self.alive = True
        self.pid = 1
        self.posted: list[messages.Request] = []

    def post(self, request: messages.Request) -> int:
        self.posted.append(request)
        return len(self.posted)

    def close(self, seconds: float) -> None:
        del seconds


class Scene:
    """A run on such a recorder."""

    def __init__(self) -> None:
        self.recorder = Mortal()
        self.link = Link()
        self.link._take_up(cast(Recorder, self.recorder))
        self.runner = Runner(self.link)
        self.runner.know_bench(bench())

    def answer(self, **data: object) -> None:
        """Carry out what was asked last."""
        self.link._hear(messages.Done(id=len(self.recorder.posted), data=data))

    def die(self) -> None:
        self.recorder.alive = False
        self.link._hear(messages.Notice(place=WATCH, problem="was killed", fix="start it again"))

    def check(self) -> None:
        self.runner.load_plan(PLAN, "plan.toml")
        self.answer(sentences=[])

    def prove(self) -> None:
        self.check()
        self.runner.prove()
        self.answer(said=["proven"])


@pytest.fixture
def scene(qtbot: QtBot) -> Scene:
    del qtbot
    return Scene()


def test_who_waits_for_an_answer_hears_that_none_will_come(scene: Scene) -> None:
    heard: list[BenchlogError] = []
    request = messages.OpenBench(id=0, text="", place="bench.toml", profiles=[])
    scene.link.ask(request, None, heard.append)
    scene.die()
    assert [str(error) for error in heard] == ["benchlog's watch: was killed; start it again."]


@pytest.mark.parametrize("far", [Scene.check, Scene.prove])
def test_no_proof_and_no_plan_outlives_the_recorder(scene: Scene, far: Callable[[Scene], None]) -> None:
    far(scene)
    scene.die()
    assert scene.runner.view.phase is Phase.NOTHING
    assert scene.runner.view.proofs == []
    assert scene.runner.view.plan is None


def test_a_proof_under_way_ends_with_the_recorder(scene: Scene) -> None:
    scene.check()
    scene.runner.prove()
    scene.die()
    assert scene.runner.view.phase is Phase.NOTHING


def test_nobody_is_asked_for_a_recorder_that_is_gone(scene: Scene) -> None:
    scene.prove()
    scene.runner.arm("folder")
    scene.answer(session="folder/run.db")
    scene.link.heard.emit(messages.Prompt(prompt=3, kind="switch_on", text="Switch the unit on."))
    scene.die()
    assert scene.runner.view.phase is Phase.OFF
    assert scene.runner.view.prompt is None
    assert not scene.runner.view.seen_off
