"""What the Power-up page says and offers is true: limits that look, a source that stands there, keys that act."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.powerup_rig import PowerUpRig, acts, answers, enter
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.recorder.client import messages
from benchlog.window.keys import Action, Keys
from benchlog.window.look import Look


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[PowerUpRig]:
    made = PowerUpRig(look, tmp_path / "library")
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    yield made
    made.close()


@pytest.mark.parametrize("state", ["ready", "dwelling"])
def test_nothing_is_offered_at_a_stage_that_the_source_does_not_stand_at(rig: PowerUpRig, state: str) -> None:
    rig.climb(2, seconds=2.0)
    before = acts(rig)
    rig.stage(state, 2, astray="the source stands at 230.0 V, not at 92.00 V")
    assert rig.page.card.call.text == "The source stands at 230.0 V, not at 92.00 V."
    assert (rig.page.card.call.enter, rig.page.card.call.danger) == ("", True)
    enter(rig)
    assert acts(rig) == before
    rig.stage(state, 2)
    assert "stands at" not in rig.page.card.call.text


def test_a_limit_that_does_not_look_yet_says_so_beside_its_value_and_in_the_graph(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=1.0)
    limits = rig.runner.view.plan.limit if rig.runner.view.plan is not None else ()
    of_plus = [at for at, limit in enumerate(limits) if limit.trace == "+B"]
    of_offset = [at for at, limit in enumerate(limits) if limit.trace.startswith("offset")]
    rig.stage("dwelling", 0, unarmed=[(at, 3.2) for at in of_offset] + [(at, None) for at in of_plus[1:]])
    rig.page.refresh()
    said = {one.face.face.name: one.face.unarmed for one in rig.page.desk.numerals.shown}
    assert (said["offset L"], said["+B"], said["mains"], said["idle L"]) == (
        "arms in 3 s",
        "1 of 5 armed",
        "",
        "",
    )
    bounds = rig.page.desk.graph.scene.bounds
    assert {bound.unarmed for bound in bounds if bound.panel == "output offset"} == {"arms in 3 s"}
    assert {bound.unarmed for bound in bounds if bound.panel in ("rails", "idle")} == {""}
    numeral = next(one for one in rig.page.desk.numerals.shown if one.face.face.name == "offset L")
    assert numeral.accessibleName().endswith(", arms in 3 s")


def test_after_off_no_limit_of_the_graph_looks_as_if_it_would_cut(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=1.0)
    rig.off()
    rig.page.refresh()
    assert {bound.unarmed for bound in rig.page.desk.graph.scene.bounds} == {"not armed"}


def test_while_live_no_value_stands_above_the_graph_that_stands_beside_it(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=1.0)
    rig.page.desk.graph.redraw()
    readout = rig.page.desk.graph._readout
    assert readout.isHidden()
    assert "+B" in rig.page.desk.graph.accessibleDescription(), "who cannot see it is still told"
    panel = rig.page.desk.graph._plot._panels[0].geometry()
    rig.page.desk.graph._point(0.5)
    rig.page.desk.graph.redraw()
    assert not readout.isHidden()
    assert rig.page.desk.graph._plot._panels[0].geometry() == panel


@pytest.mark.parametrize(
    ("why", "said"), [("off", "0.6 s after it was switched off"), ("cut", "640 ms after the cut")]
)
def test_only_a_cut_is_called_one(rig: PowerUpRig, why: str, said: str) -> None:
    rig.climb(0, seconds=1.0)
    rig.off(why=why, text="ended")
    rig.page.refresh()
    assert said in [line.right for line in rig.page.desk.waits.lines]


def test_after_off_nothing_is_offered_that_does_nothing(rig: PowerUpRig) -> None:
    rig.climb(1, seconds=1.0)
    rig.stage("dwelling", 1, 5.0)
    rig.page.refresh()
    assert not any(rig.page.row.caps[one].isHidden() for one in (Action.HOLD, Action.BACK, Action.OFF))
    rig.off()
    rig.page.refresh()
    shown = [one for one, cap in rig.page.row.caps.items() if not cap.isHidden()]
    assert shown == [Action.OFF, Action.NOTE]
    before = acts(rig)
    for one in (Action.HOLD, Action.BACK):
        assert rig.page.act(one)
    assert acts(rig) == before


def test_a_note_stands_where_its_key_was_pressed(rig: PowerUpRig, qtbot: QtBot) -> None:
    rig.climb(0, seconds=1.0)
    rig.page.act(Action.NOTE)
    rig.now += 12.5
    qtbot.keyClicks(rig.page.note.field, "a smell near R214")
    qtbot.keyClick(rig.page.note.field, Qt.Key.Key_Return)
    (remark,) = rig.link.of(messages.Remark)
    assert isinstance(remark, messages.Remark)
    assert (remark.text, remark.ago) == ("a smell near R214", pytest.approx(12.5))


def test_the_dial_is_asked_back_after_off_and_the_reservoirs_are_not_forgotten(rig: PowerUpRig) -> None:
    rig.climb(0, seconds=1.0)
    rig.off()
    rig.prompt("set_dial", "Turn the variable transformer back to zero.", fraction=0.0, volts=0.0, after=True)
    rig.page.refresh()
    call = rig.page.card.call
    assert call.text == "Turn the variable transformer back to zero."
    assert call.detail == "Before the next start. Keep hands out. The reservoirs are still charged."
    assert (call.enter, call.no, call.danger) == ("done", "not done", True)
    enter(rig)
    assert answers(rig)[-1][1]


def test_what_is_said_names_no_key_that_may_be_bound_elsewhere(rig: PowerUpRig) -> None:
    rig.work.keys = Keys({"F13": "go"})
    rig.work.keys_changed.emit()
    rig.armed()
    rig.stage("setting", 0)
    for kind in ("set_dial", "switch_on", "switch_off", "heard_alarm", "relay_clicked"):
        rig.prompt(kind, f"{kind}?")
        rig.page.refresh()
        assert "Enter" not in f"{rig.page.card.call.text} {rig.page.card.call.detail}"
        assert rig.page.card.enter.accessibleName().endswith("(F13)")
