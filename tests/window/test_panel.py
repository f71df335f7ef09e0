"""The panel of the simulated bench: what a person does there happens at the far end, and is seen there."""

import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.live_bench import LiveBench, live_bench
from helpers.program import HANG, Running
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QAccessible, QWheelEvent
from PySide6.QtWidgets import QApplication, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from benchlog.errors import BadInput
from benchlog.window import panel as panel_file
from benchlog.window.look import Look
from benchlog.window.panel import LEAST_HEIGHT, WIDTH, Panel, stand_aside
from benchlog.window.panel_line import PanelLine, parted

Open = Callable[[LiveBench], Panel]
LONG = 60_000


@pytest.fixture
def look(qapp: QApplication) -> Look:
    return Look(qapp, "light")


@pytest.fixture
def opened(look: Look, qtbot: QtBot) -> Iterator[Open]:
    """Open the panel on a bench and wait until it has seen it."""
    lines = []

    def open_on(live: LiveBench) -> Panel:
        line = PanelLine(live.bench.control.address)
        lines.append(line)
        made = Panel(look, line)
        qtbot.addWidget(made)
        stand_aside(made, QRect(0, 0, 1366, 768))
        # Not by waitSignals, which stumbles over a signal that comes again and again.
        heard: set[str] = set()
        line.named.connect(lambda _: heard.add("named"))
        line.seen.connect(lambda _: heard.add("seen"))
        line.start()
        qtbot.waitUntil(lambda: heard == {"named", "seen"}, timeout=LONG)
        return made

    yield open_on
    for line in lines:
        line.close()


@pytest.fixture
def by_hand() -> Iterator[LiveBench]:
    with live_bench("by-hand", speed=10.0, played=True) as live:
        yield live


@pytest.fixture
def at_hand(by_hand: LiveBench, opened: Open) -> Panel:
    return opened(by_hand)


def stands_at(live: LiveBench, percent: float) -> bool:
    return bool(abs(live.control("state")["dial"] * 100.0 - percent) < 0.01)


def test_the_dial_is_turned_by_its_marks(at_hand: Panel, by_hand: LiveBench, qtbot: QtBot) -> None:
    for percent in panel_file.MARKS:
        button = next(b for b in at_hand.findChildren(QPushButton) if b.text() == f"{percent}")
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        assert at_hand.dial.wanted == percent
        qtbot.waitUntil(lambda: at_hand.percent.text() == f"{at_hand.dial.wanted:g} %", timeout=LONG)
        # Shown to a tenth of a per cent, it may still have the last of its way to go.
        qtbot.waitUntil(lambda: stands_at(by_hand, at_hand.dial.wanted), timeout=LONG)


def test_a_lamp_ladder_has_switch_and_lamps_and_no_dial(opened: Open) -> None:
    with live_bench("lamp-ladder", speed=10.0, played=True) as live:
        panel = opened(live)
        source, mains = panel.controls
        assert (source.isHidden(), mains.isHidden()) == (True, False)
        assert panel.lamps.currentData() == 100.0


@pytest.mark.parametrize(
    ("keys", "percent"),
    [
        ([Qt.Key.Key_PageUp, Qt.Key.Key_Up, Qt.Key.Key_Right], 12),
        ([Qt.Key.Key_PageUp, Qt.Key.Key_Down, Qt.Key.Key_Left], 8),
        ([Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_Up], 1),
        ([*[Qt.Key.Key_PageUp] * 12], 110),
        ([Qt.Key.Key_Up, Qt.Key.Key_Home], 0),
        ([Qt.Key.Key_4, Qt.Key.Key_2, Qt.Key.Key_Return], 42),
    ],
)
def test_the_dial_is_turned_by_keys(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot, keys: list[Qt.Key], percent: float
) -> None:
    at_hand.dial.setFocus()
    for key in keys:
        to = at_hand.typed if at_hand.typed.text() else at_hand.dial
        qtbot.keyClick(to, key)
    assert at_hand.dial.wanted == percent
    qtbot.waitUntil(lambda: stands_at(by_hand, percent), timeout=LONG)


@pytest.mark.parametrize(("typed", "percent"), [("12.5", 12.5), ("7,5", 7.5), ("110", 110.0)])
def test_a_number_can_be_typed(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot, typed: str, percent: float
) -> None:
    at_hand.typed.setText(typed)
    qtbot.keyClick(at_hand.typed, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: stands_at(by_hand, percent), timeout=LONG)
    assert at_hand.typed.text() == ""


def test_the_dial_is_dragged_round_its_middle_and_stops_at_its_ends(at_hand: Panel, qtbot: QtBot) -> None:
    dial, left = at_hand.dial, Qt.MouseButton.LeftButton
    middle, radius = QPoint(dial.width() // 2, dial.width() // 2), dial.width() // 2 - 12
    west, north, east = (middle + QPoint(*at) for at in ((-radius, 0), (0, -radius), (radius, 0)))
    qtbot.mousePress(dial, left, pos=west)
    qtbot.mouseMove(dial, north)
    assert dial.wanted == pytest.approx(90 * 110 / 270, abs=0.2)
    qtbot.mouseMove(dial, east)
    qtbot.mouseMove(dial, middle + QPoint(0, radius // 2))
    qtbot.mouseMove(dial, west)
    # Round and round: it stays at its end.
    assert dial.wanted == 110
    qtbot.mouseMove(dial, north)
    assert dial.wanted == 110
    qtbot.mouseRelease(dial, left, pos=north)
    assert dial.wanted == 110


def test_a_click_on_the_scale_turns_the_dial_to_there_and_one_on_the_knob_does_nothing(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot
) -> None:
    dial, left = at_hand.dial, Qt.MouseButton.LeftButton
    middle = dial.width() // 2
    qtbot.mouseClick(dial, left, pos=QPoint(middle, 10))
    assert dial.wanted == 55
    qtbot.mouseClick(dial, left, pos=QPoint(middle - 20, middle))
    assert dial.wanted == 55
    qtbot.waitUntil(lambda: stands_at(by_hand, 55), timeout=LONG)


def test_the_wheel_turns_the_dial_by_one_a_notch(at_hand: Panel) -> None:
    for turned in (60, 60, 240, -120):
        wheel = QWheelEvent(
            QPointF(10, 10),
            QPointF(10, 10),
            QPoint(),
            QPoint(0, turned),
            Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        QApplication.sendEvent(at_hand.dial, wheel)
    assert at_hand.dial.wanted == 2


def test_a_dial_turned_by_somebody_else_is_shown_where_it_stands(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot
) -> None:
    by_hand.control("turn", fraction=0.4)
    qtbot.waitUntil(lambda: at_hand.dial.wanted == 40, timeout=LONG)
    assert at_hand.dial.accessibleName() == "variable transformer, stands at 40 %"


def test_the_switch_is_thrown_by_mouse_and_by_key(at_hand: Panel, by_hand: LiveBench, qtbot: QtBot) -> None:
    assert at_hand.rocker.accessibleName() == "wall switch, off"
    qtbot.mouseClick(at_hand.rocker, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: at_hand.rocker.accessibleName() == "wall switch, on", timeout=LONG)
    assert by_hand.control("state")["live"] is True
    qtbot.keyClick(at_hand.rocker, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: at_hand.rocker.accessibleName() == "wall switch, off", timeout=LONG)
    assert by_hand.control("state")["live"] is False


def test_the_lamp_glows_and_is_not_changed_while_it_is_live(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot
) -> None:
    by_hand.control("switch", on=True)
    by_hand.control("turn", fraction=1.0)
    qtbot.waitUntil(lambda: at_hand.lamp.accessibleName() == "lamp: glow", timeout=LONG)
    at_hand.lamps.activated.emit(at_hand.lamps.findText("none"))
    qtbot.waitUntil(lambda: at_hand.says.text() == "lamp: it is live; switch off first.", timeout=LONG)
    by_hand.control("switch", on=False)
    at_hand.lamps.activated.emit(at_hand.lamps.findText("none"))
    qtbot.waitUntil(lambda: at_hand.lamp.accessibleName() == "lamp: none", timeout=LONG)
    assert at_hand.lamps.currentText() == "none"
    assert at_hand.says.text() == ""


def test_the_probes_are_put_on_turned_round_and_lifted(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot
) -> None:
    probes = at_hand.probes
    assert probes.where.text() == "in the air"
    qtbot.keyClicks(probes.named, "q102")
    assert probes.list.currentItem().text() == "Q102BC"
    qtbot.keyClick(probes.named, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: probes.where.text() == "on Q102BC", timeout=LONG)
    qtbot.mouseClick(probes.turn_round, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: probes.where.text() == "on Q102BC, turned round", timeout=LONG)
    assert by_hand.saw("probe", part="Q102BC", side="reverse")
    qtbot.mouseClick(probes.lift, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: probes.where.text() == "in the air", timeout=LONG)


def test_a_part_of_the_list_is_probed_by_enter_and_an_unknown_one_is_told(
    at_hand: Panel, qtbot: QtBot
) -> None:
    probes = at_hand.probes
    probes.list.setFocus()
    qtbot.keyClick(probes.list, Qt.Key.Key_Down)
    chosen = probes.list.currentItem().text()
    assert chosen != probes.list.item(0).text()
    probes.list.itemActivated.emit(probes.list.currentItem())
    qtbot.waitUntil(lambda: probes.where.text() == f"on {chosen}", timeout=LONG)
    qtbot.keyClicks(probes.named, "R999")
    qtbot.mouseClick(probes.put_on, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "there is no R999 on this unit" in at_hand.says.text(), timeout=LONG)


def test_a_meter_is_tampered_with(at_hand: Panel, by_hand: LiveBench, qtbot: QtBot) -> None:
    at_hand.meters.setCurrentIndex(at_hand.meters.findText("+B"))
    at_hand.acts.setCurrentIndex(at_hand.acts.findText("press HOLD"))
    qtbot.mouseClick(at_hand.tamper, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: at_hand.says.text() == "+B: press HOLD.", timeout=LONG)
    assert by_hand.saw("meter", job="+B", act="hold")


def test_a_fault_is_started(at_hand: Panel, by_hand: LiveBench, qtbot: QtBot) -> None:
    assert at_hand.says.text() == "Plays: healthy."
    at_hand.faults.setCurrentIndex(at_hand.faults.findText("shorted output"))
    qtbot.mouseClick(at_hand.play, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: at_hand.says.text() == "Plays: shorted output.", timeout=LONG)
    assert by_hand.bench.truth.fault == "shorted-output"


def test_the_alarm_is_shown_while_it_sounds(
    at_hand: Panel, by_hand: LiveBench, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert at_hand.alarm.text() == "alarm: quiet"
    by_hand.control("alarm")
    qtbot.waitUntil(lambda: at_hand.alarm.text() == "ALARM SOUNDS", timeout=LONG)
    grounds = set()

    def both_seen() -> bool:
        by_hand.control("alarm")
        grounds.add(at_hand.alarm.styleSheet())
        return len(grounds) == 2

    qtbot.waitUntil(both_seen, timeout=LONG)
    monkeypatch.setattr(panel_file, "HEARD", 0.1)
    qtbot.waitUntil(lambda: at_hand.alarm.text() == "alarm: quiet", timeout=LONG)


def test_beside_a_relay_its_clicks_are_heard(opened: Open, qtbot: QtBot) -> None:
    with live_bench(played=True) as live:
        panel = opened(live)
        assert panel.seen.text().startswith("Mains relay: out, has not clicked.")
        assert live.bench.relay is not None
        live.bench.relay.clicks = 2
        qtbot.waitUntil(lambda: "has clicked twice" in panel.seen.text(), timeout=LONG)


def test_on_the_board_there_is_nothing_to_turn_and_the_supply_is_seen(opened: Open, qtbot: QtBot) -> None:
    with live_bench("board", played=True, speed=20.0) as live:
        panel = opened(live)
        assert not panel.dial.isVisible()
        assert not panel.rocker.isVisible()
        assert panel.seen.text() == "Supply's output 1: off.\nSupply's output 2: off."
        live.line("bench supply").say("VOLT 10,(@1)\nCURR 0.5,(@1)\nOUTP ON,(@1)")
        qtbot.waitUntil(lambda: "output 1: 10.00 V" in panel.seen.text(), timeout=LONG)


def test_a_bench_that_has_ended_is_told_and_nothing_can_be_done_there(opened: Open, qtbot: QtBot) -> None:
    with live_bench("by-hand", played=True) as live:
        panel = opened(live)
    qtbot.waitUntil(lambda: panel.alarm.text() == "The simulated bench has ended.", timeout=LONG)
    assert not panel.dial.isEnabled()
    assert not panel.probes.put_on.isEnabled()


def test_it_finds_room_beside_the_window_and_everything_has_a_name(at_hand: Panel) -> None:
    assert at_hand.width() == WIDTH
    assert at_hand.minimumSizeHint().width() <= WIDTH
    for widget in at_hand.findChildren(QWidget):
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            described = QAccessible.queryAccessibleInterface(widget)
            assert described.text(QAccessible.Text.Name), widget
    for label in at_hand.findChildren(QLabel):
        if label.isVisible() and label.text():
            assert label.width() >= label.minimumSizeHint().width(), label.text()


def test_it_stays_in_front_until_told_otherwise(at_hand: Panel, qtbot: QtBot) -> None:
    assert at_hand.windowFlags() & Qt.WindowType.WindowStaysOnTopHint
    qtbot.mouseClick(at_hand.in_front, Qt.MouseButton.LeftButton)
    assert not at_hand.windowFlags() & Qt.WindowType.WindowStaysOnTopHint
    assert at_hand.isVisible()


def test_where_there_is_no_room_beside_it_is_small_at_the_upper_corner_and_not_in_front(
    at_hand: Panel, qtbot: QtBot
) -> None:
    assert at_hand.height() > LEAST_HEIGHT
    stand_aside(at_hand, QRect(0, 0, 800, 600))
    assert (at_hand.y(), at_hand.height()) == (0, LEAST_HEIGHT)
    assert at_hand.x() + WIDTH < 800
    qtbot.waitUntil(
        lambda: at_hand.faults.visibleRegion().boundingRect().size() == at_hand.faults.size(), timeout=LONG
    )
    assert not at_hand.windowFlags() & Qt.WindowType.WindowStaysOnTopHint
    assert at_hand.isVisible()


def test_it_follows_from_light_to_dark(at_hand: Panel, look: Look, qtbot: QtBot) -> None:
    look.set_theme("dark")
    picture = at_hand.grab().toImage()
    assert picture.pixelColor(2, 2).lightness() < 60
    look.set_theme("light")
    assert at_hand.grab().toImage().pixelColor(2, 2).lightness() > 200


@pytest.mark.parametrize(
    "address", ["", "127.0.0.1:80", "tcp://127.0.0.1", "tcp://:80", "tcp://h:port", "tcp://h:99999"]
)
def test_what_is_no_control_port_is_refused(address: str) -> None:
    with pytest.raises(BadInput, match="is no control port"):
        parted(address)


def test_the_process_ends_with_its_standard_input(by_hand: LiveBench, tmp_path: Path) -> None:
    with Running("benchlog.window.panel", by_hand.bench.control.address, home=tmp_path) as running:
        running.hears_no_more()
        ended = running.wait()
        assert (ended.status, ended.out) == (0, "")
        assert "Traceback" not in ended.err


def test_a_wrong_address_is_one_sentence_and_status_2() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "benchlog.window.panel", "nowhere"],
        capture_output=True,
        text=True,
        check=False,
        timeout=HANG,
    )
    assert done.returncode == 2
    assert done.stderr == (
        "nowhere: is no control port; give what the simulated bench prints, tcp://HOST:PORT.\n"
    )
