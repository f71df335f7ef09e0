"""A clip, a trimmer and a limit by keys, on a recorder that says what the test lets it say."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from benchlog.domain.reading import Outcome
from benchlog.domain.trust import UNPROVEN
from benchlog.recorder.client import messages
from benchlog.window import arming
from benchlog.window.graph_scene import scene_of, with_arming
from benchlog.window.keys import Action
from benchlog.window.look import Look
from benchlog.window.touching import figures_of, idles_of
from benchlog.window.waits import lines_of

Key = Qt.Key


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    yield made
    made.close()


def stands(rig: PowerUpRig, *clips: tuple[str, float], adjusting: float = 0.0) -> None:
    """Say how the run stands, at its third stage."""
    rig.link.say(
        messages.Stage(
            t=int(rig.t * 1e9), state="held", index=2, name="40 %", clips=list(clips), adjusting=adjusting
        )
    )


def live(rig: PowerUpRig) -> None:
    """On at the third stage, with nothing that waits to be armed."""
    rig.climb(2, seconds=1.0)
    stands(rig)


def press(rig: PowerUpRig, *keys: Key) -> None:
    for key in keys:
        QTest.keyClick(rig.page.touch.field, key)


def place(rig: PowerUpRig, name: str) -> int:
    """The number of a trace in the plan, from 1."""
    assert rig.runner.view.plan is not None
    return [trace.name for trace in rig.runner.view.plan.trace].index(name) + 1


# --- a clip ----------------------------------------------------------------------------------------------


def test_a_clip_is_chosen_by_its_number(rig: PowerUpRig) -> None:
    live(rig)
    rig.page.act(Action.CLIP)
    assert [cap.does for cap in rig.page.touch.caps][:4] == ["mains", "lamp", "+B", "-B"]
    QTest.keyClicks(rig.page.touch.field, str(place(rig, "offset L")))
    assert [request.trace for request in rig.link.of(messages.Clip)] == ["offset L"]  # type: ignore[attr-defined]
    assert rig.page.touch.isHidden()


def test_a_clip_is_chosen_by_the_arrows(rig: PowerUpRig) -> None:
    live(rig)
    rig.page.act(Action.CLIP)
    press(rig, Key.Key_Down, Key.Key_Down, Key.Key_Down, Key.Key_Up, Key.Key_Enter)
    assert [request.trace for request in rig.link.of(messages.Clip)] == ["+B"]  # type: ignore[attr-defined]


def test_a_clip_in_hand_is_counted_down_and_the_key_says_that_it_is_on(rig: PowerUpRig) -> None:
    live(rig)
    stands(rig, ("+B", 12.4))
    first = lines_of(rig.runner.view, rig.now, {})[0]
    assert (first.text, first.right) == ("+B: clip being moved, rests", "12 s left")
    assert rig.page.row.caps[Action.CLIP].does == "clip is on"
    rig.page.act(Action.CLIP)
    assert [request.trace for request in rig.link.of(messages.Clip)] == ["+B"]  # type: ignore[attr-defined]
    assert rig.page.touch.isHidden()


def test_what_rests_is_not_drawn_as_armed(rig: PowerUpRig) -> None:
    live(rig)
    view = rig.runner.view
    assert view.plan is not None
    bounds = scene_of(view.plan).bounds
    assert all(bound.looks for bound in with_arming(bounds, arming.unarmed(view)))
    stands(rig, ("+B", 12.4))
    resting = [bound for bound in with_arming(bounds, arming.unarmed(view)) if not bound.looks]
    assert [bound.said[0] for bound in resting] == ["trips above 50 V: rests: clip moved, 12 s"]
    assert arming.of_trace(view, "-B").endswith("armed")


def test_limits_of_a_trace_that_proves_nothing_rest_in_the_picture(rig: PowerUpRig) -> None:
    live(rig)
    view = rig.runner.view
    rig.event("clip", "read again", trace="offset L", doubt=UNPROVEN)
    assert view.plan is not None
    own = {at for at, limit in enumerate(view.plan.limit) if limit.trace == "offset L"}
    assert arming.unarmed(view) == dict.fromkeys(own, "rests: unproven")
    assert arming.of_trace(view, "offset L") == "rests: unproven"
    rig.event("trust", "has moved", trace="offset L", doubt="")
    assert arming.unarmed(view) == {}


def test_a_number_of_a_clip_in_hand_is_none(rig: PowerUpRig) -> None:
    live(rig)
    rig.event("clip", "the clip of +B is being moved", trace="+B", doubt=Outcome.CLIP.value)
    rig.read("+B", None, Outcome.CLIP)
    rig.page.refresh()
    (face,) = [one.face for one in rig.page.desk.numerals.shown if one.face.face.name == "+B"]
    assert (face.face.wrong, face.face.number) == ("in hand", "- -")


# --- a trimmer -------------------------------------------------------------------------------------------


def test_a_trimmer_is_told_by_one_key_and_counted_down(rig: PowerUpRig) -> None:
    live(rig)
    rig.page.act(Action.TRIMMER)
    assert len(rig.link.of(messages.Trimmer)) == 1
    stands(rig, adjusting=43.2)
    first = lines_of(rig.runner.view, rig.now, {})[0]
    assert (first.text, first.right) == ("adjusting: runaway rests", "43 s left")


def test_nothing_is_touched_before_the_run_is_open(rig: PowerUpRig) -> None:
    rig.proven()
    for action in (Action.CLIP, Action.TRIMMER, Action.IDLE_SET, Action.LIMIT):
        rig.page.act(action)
    assert rig.page.touch.isHidden()
    assert rig.link.of(messages.Trimmer) == rig.link.of(messages.IdleSet) == []


# --- an idle that is set ---------------------------------------------------------------------------------


def test_which_idle_is_set_is_chosen_and_the_same_key_takes_it_back(rig: PowerUpRig) -> None:
    live(rig)
    names = idles_of(rig.runner.view)
    rig.page.act(Action.IDLE_SET)
    assert [cap.does for cap in rig.page.touch.caps] == list(names)
    QTest.keyClicks(rig.page.touch.field, "2")
    assert [request.trace for request in rig.link.of(messages.IdleSet)] == [names[1]]  # type: ignore[attr-defined]
    assert rig.page.touch.isHidden()
    rig.event("idle", f"{names[1]}: idle marked as set", trace=names[1], set=True)
    rig.page.act(Action.IDLE_SET)
    assert [cap.does for cap in rig.page.touch.caps][1] == f"{names[1]}: not set"
    rig.page.touch.leave()
    rig.event("idle", f"{names[0]}: idle marked as set", trace=names[0], set=True)
    rig.page.refresh()
    assert rig.page.row.caps[Action.IDLE_SET].does == "idle not set"
    rig.event("idle", f"{names[1]}: idle not set after all", trace=names[1], set=False)
    assert rig.runner.view.idle_set == {names[0]}


# --- a limit ---------------------------------------------------------------------------------------------


def ceiling(rig: PowerUpRig) -> int:
    """Ask for the ceiling of +B; its place in the plan."""
    live(rig)
    plan = rig.runner.view.plan
    assert plan is not None
    rig.page.act(Action.LIMIT)
    names = [cap.does for cap in rig.page.touch.caps]
    QTest.keyClicks(rig.page.touch.field, str(names.index("+B") + 1))
    figures = figures_of(plan, "+B")
    (at,) = [number for number, one in enumerate(figures) if one.text == "high 50 V"]
    assert [cap.does for cap in rig.page.touch.caps] == [one.text for one in figures]
    QTest.keyClicks(rig.page.touch.field, str(at + 1))
    assert rig.page.touch.asks.text() == "+B high 50 V"
    return figures[at].at


def asked(rig: PowerUpRig) -> list[tuple[int, float, str, str]]:
    return [
        (one.limit, one.value, one.field, one.reason)
        for one in rig.link.of(messages.SetLimit)
        if isinstance(one, messages.SetLimit)
    ]


def test_a_limit_is_tightened_with_a_value_alone(rig: PowerUpRig) -> None:
    at = ceiling(rig)
    QTest.keyClicks(rig.page.touch.field, "48")
    press(rig, Key.Key_Enter)
    assert asked(rig) == [(at, 48.0, "value", "")]
    assert rig.page.touch.isHidden()
    rig.event("limit", "+B high tightened", limit=at, field="value", old=50.0, new=48.0, loosened=False)
    plan = rig.runner.view.plan
    assert plan is not None
    assert plan.limit[at].value == 48.0
    rig.page.refresh()
    shown = {bound.text for bound in rig.page.desk.graph.scene.bounds}
    assert {"trips above 48 V", "trips beyond -50 V"} <= shown


def test_a_looser_limit_asks_why_and_enter_alone_leaves_it(rig: PowerUpRig) -> None:
    at = ceiling(rig)
    QTest.keyClicks(rig.page.touch.field, "52")
    press(rig, Key.Key_Enter)
    assert asked(rig) == []
    assert "looser" in rig.page.touch.asks.text()
    press(rig, Key.Key_Enter)
    assert (asked(rig), rig.page.touch.isHidden()) == ([], True)
    rig.page.act(Action.LIMIT)
    rig.page.touch.leave()
    ceiling_again(rig)
    QTest.keyClicks(rig.page.touch.field, "52")
    press(rig, Key.Key_Enter)
    QTest.keyClicks(rig.page.touch.field, "63 V parts")
    press(rig, Key.Key_Enter)
    assert asked(rig) == [(at, 52.0, "value", "63 V parts")]


def ceiling_again(rig: PowerUpRig) -> None:
    """The ceiling of +B, by the arrows."""
    rig.page.act(Action.LIMIT)
    for wanted in ("+B", "high 50 V"):
        steps = [cap.does for cap in rig.page.touch.caps].index(wanted)
        press(rig, *[Key.Key_Down] * steps, Key.Key_Enter)


def test_what_is_no_value_is_said_in_the_line(rig: PowerUpRig) -> None:
    ceiling(rig)
    QTest.keyClicks(rig.page.touch.field, "lots")
    press(rig, Key.Key_Enter)
    assert (asked(rig), rig.page.touch.isHidden()) == ([], False)
    assert rig.page.touch.wrong.text()
    press(rig, *[Key.Key_Backspace] * 5)
    assert rig.page.touch.isHidden()


def test_the_line_closes_as_the_unit_goes_off(rig: PowerUpRig) -> None:
    ceiling(rig)
    rig.event("off", "cut by the operator", why="cut")
    assert rig.page.touch.isHidden()


@pytest.mark.parametrize("size", [(1240, 750), (612, 553)])
def test_there_is_room_for_every_limit(rig: PowerUpRig, qtbot: QtBot, size: tuple[int, int]) -> None:
    live(rig)
    rig.window.resize(*size)
    rig.page.act(Action.LIMIT)
    for _ in range(2):
        qtbot.waitUntil(lambda: rig.page.rect().contains(_corner(rig)))
        press(rig, Key.Key_Down, Key.Key_Down, Key.Key_Enter)


def _corner(rig: PowerUpRig) -> QPoint:
    touch = rig.page.touch
    return touch.mapTo(rig.page, touch.rect().bottomRight())
