"""`python -m benchlog.window.panel CONTROL`: a person's hands at the simulated bench, in a window of their own.

Not part of benchlog: in life these are a knob, a switch, a lamp socket and two probes on the table. It knows
the simulated bench by its control port alone. It ends with its window, or with standard input.
"""

import argparse
import logging
import os
import signal
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from types import TracebackType
from typing import Any

from PySide6.QtCore import QObject, QRect, Qt, Signal
from PySide6.QtGui import QCloseEvent, QDoubleValidator
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QFrame,
    QGraphicsOpacityEffect,
    QGridLayout,
    QHBoxLayout,
    QLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchlog import logs
from benchlog.errors import BadInput
from benchlog.window.look import Look
from benchlog.window.panel_dial import MOST, Dial
from benchlog.window.panel_hand import AlarmBand, Lamp, Rocker
from benchlog.window.panel_line import Names, PanelLine, Seen
from benchlog.window.panel_probes import Probes, ranked
from benchlog.window.panel_trims import Trims

log = logging.getLogger(__name__)
TITLE = "Simulated bench (not part of benchlog)"
MARKS = (0, 10, 20, 40, 60, 80, 100)
"""Per cent that a plan's stages usually stand at."""
WIDTH, HEIGHT, LEAST_HEIGHT = 320, 720, 300
LEAST_BESIDE = 650
"""Pixels of width that benchlog's own window needs at least."""
HEARD = 2.0
"""Seconds after which an alarm that was heard counts as over: it sounds once a second."""
BUG, BAD_INPUT = 1, 2
_SHEET = """
QPushButton[mark="true"], QPushButton[small="true"] { padding: 5px 0; font-size: 14px; }
QPushButton[small="true"] { padding: 3px 8px; }
QPushButton[mark="true"]:focus { padding: 4px 0; }
QPushButton[small="true"]:focus { padding: 2px 7px; }
"""


class Panel(QWidget):
    """The window of the panel; `gone` when it was closed."""

    gone = Signal()

    def __init__(self, look: Look, line: PanelLine, title: str = TITLE) -> None:
        super().__init__()
        self._look = look
        self._line = line
        self.setWindowTitle(title)
        self.setStyleSheet(_SHEET)
        self.setObjectName("panel")
        self.setAutoFillBackground(True)
        self.alarm = AlarmBand(look)
        self.says = ranked("", "soft")
        self.says.setWordWrap(True)
        self.seen = ranked("", "soft")
        self.seen.setWordWrap(True)
        self.dial = Dial(look)
        self.percent = ranked("0 %", "")
        self.typed = QLineEdit()
        self.rocker = Rocker(look, "wall switch")
        self.lamp = Lamp(look)
        self.lamps = QComboBox()
        self.probes = Probes()
        self.trims = Trims()
        self.meters = QComboBox()
        self.acts = QComboBox()
        self.tamper = QPushButton("Do")
        self.faults = QComboBox()
        self.play = QPushButton("Play")
        self.in_front = QPushButton("in front")
        self.in_front.setCheckable(True)
        self.in_front.setAccessibleName("keep this window in front")
        self.in_front.setProperty("small", True)
        self.controls = [self._source_card(), self._mains_card()]
        self._lay_out()
        self._connect()
        look.changed.connect(self._dress)
        self._dress()

    # --- the picture -----------------------------------------------------------------------------

    def _lay_out(self) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(10, 0, 10, 4)
        column.setSpacing(6)
        for card in self.controls:
            card.hide()
            column.addWidget(card)
        column.addWidget(self.probes, 1)
        column.addWidget(self.trims)
        column.addWidget(self._meter_card())
        column.addWidget(self.seen)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(inside)
        # Its content takes the focus, and by Tab it comes into sight.
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._inside = inside
        head = QHBoxLayout()
        head.setContentsMargins(12, 8, 12, 0)
        head.addWidget(ranked("Simulated bench", "head"))
        head.addStretch()
        head.addWidget(ranked("not part of benchlog", "soft"))
        top = QVBoxLayout()
        top.setContentsMargins(10, 4, 10, 6)
        top.addWidget(self.alarm)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addLayout(head)
        whole.addLayout(top)
        whole.addWidget(scroll, 1)
        # Outside what scrolls: on a low screen half of it would be all that is seen.
        self._faults_card = self._fault_card()
        below = QVBoxLayout()
        below.setContentsMargins(10, 4, 10, 0)
        below.addWidget(self._faults_card)
        whole.addLayout(below)
        foot = QHBoxLayout()
        foot.setContentsMargins(12, 4, 10, 8)
        foot.addWidget(self.says, 1)
        foot.addWidget(self.in_front)
        whole.addLayout(foot)
        # The window's size is not that of its content, which scrolls.
        whole.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
        self.setMinimumSize(WIDTH, LEAST_HEIGHT)

    def _source_card(self) -> QFrame:
        made, column = _card()
        row = QHBoxLayout()
        row.addWidget(self.dial)
        beside = QVBoxLayout()
        name = ranked("Variable transformer", "head")
        name.setWordWrap(True)
        name.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        beside.addWidget(name)
        self.percent.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        beside.addWidget(self.percent)
        self.typed.setPlaceholderText("set to, in %")
        self.typed.setAccessibleName("set the variable transformer to, in per cent")
        valid = QDoubleValidator(0.0, float(MOST), 1, self.typed)
        valid.setNotation(QDoubleValidator.Notation.StandardNotation)
        self.typed.setValidator(valid)
        beside.addWidget(self.typed)
        row.addLayout(beside, 1)
        column.addLayout(row)
        marks = QHBoxLayout()
        marks.setSpacing(4)
        for percent in MARKS:
            button = QPushButton(f"{percent}")
            button.setProperty("mark", True)
            button.setMinimumWidth(0)
            button.setAccessibleName(f"set to {percent} %")
            button.clicked.connect(lambda _checked=False, to=percent: self.dial.turn_to(to))
            marks.addWidget(button, 1)
        column.addLayout(marks)
        return made

    def _mains_card(self) -> QFrame:
        made, column = _card()
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        grid.addWidget(ranked("Wall switch", "head"), 0, 0)
        grid.addWidget(self.rocker, 1, 0)
        grid.addWidget(self.lamp, 0, 1, 2, 1)
        grid.addWidget(ranked("Lamp", "head"), 0, 2)
        self.lamps.setAccessibleName("lamp fitted")
        grid.addWidget(self.lamps, 1, 2)
        grid.setColumnStretch(0, 1)
        grid.setColumnStretch(2, 1)
        column.addLayout(grid)
        return made

    def _meter_card(self) -> QFrame:
        made, column = _card()
        row = QHBoxLayout()
        row.addWidget(ranked("Meter", "head"))
        self.meters.setAccessibleName("meter to lay a hand on")
        row.addWidget(self.meters, 1)
        column.addLayout(row)
        beside = QHBoxLayout()
        self.acts.setAccessibleName("what to do to that meter")
        beside.addWidget(self.acts, 1)
        beside.addWidget(self.tamper)
        column.addLayout(beside)
        return made

    def _fault_card(self) -> QFrame:
        made, column = _card()
        row = QHBoxLayout()
        row.addWidget(ranked("Fault", "head"))
        self.faults.setAccessibleName("fault of the unit")
        row.addWidget(self.faults, 1)
        row.addWidget(self.play)
        column.addLayout(row)
        return made

    def _dress(self) -> None:
        self.percent.setFont(self._look.font(34, bold=True))
        self.percent.setStyleSheet("font-size: 34px; font-weight: bold;")

    # --- what a person does ----------------------------------------------------------------------

    def _connect(self) -> None:
        line = self._line
        line.named.connect(self._take_names)
        line.seen.connect(self._take_sight)
        line.refused.connect(self._take_refusal)
        line.done.connect(self._take_deed)
        line.ended.connect(self._end)
        self.dial.turned.connect(lambda percent: line.ask("turn", fraction=percent / 100.0))
        self.dial.typing.connect(self._begin_number)
        self.typed.returnPressed.connect(self._take_number)
        self.rocker.clicked.connect(lambda: line.ask("switch", on=not self.rocker.on))
        self.lamps.activated.connect(lambda at: line.ask("lamp", watts=self.lamps.itemData(at)))
        self.probes.moved.connect(self._probe)
        self.trims.turned.connect(lambda preset, to: line.ask("trim", preset=preset, to=to))
        self.tamper.clicked.connect(
            lambda: line.ask("meter", job=self.meters.currentText(), act=self.acts.currentData())
        )
        self.play.clicked.connect(lambda: line.ask("fault", name=self.faults.currentData()))
        self.in_front.toggled.connect(self._keep_in_front)

    def _begin_number(self, digit: str) -> None:
        self.typed.setText(digit)
        self.typed.setFocus()

    def _take_number(self) -> None:
        self.dial.turn_to(float(self.typed.text().replace(",", ".")))
        self.typed.clear()
        self.dial.setFocus()

    def _probe(self, part: str, turned: bool) -> None:
        self._line.ask("probe", part=part, side="reverse" if turned else "")

    def _keep_in_front(self, keep: bool) -> None:
        self.setWindowFlag(Qt.WindowType.WindowStaysOnTopHint, keep)
        self.show()

    # --- what the bench says ---------------------------------------------------------------------

    def _take_names(self, names: Names) -> None:
        self.probes.offer(names.parts)
        for card, needs in zip(self.controls, ("dial", "switch"), strict=True):
            card.setVisible(needs in names.controls)
        for watts in names.lamps:
            self.lamps.addItem(f"{watts:g} W" if watts else "none", watts)
        self.meters.addItems(names.meters)
        for act, said in names.acts.items():
            self.acts.addItem(said, act)
        for fault in names.faults:
            self.faults.addItem(fault.replace("-", " "), fault)
        self.faults.setCurrentIndex(self.faults.findData(names.fault))
        self.says.setText(f"Plays: {self.faults.currentText()}.")
        first = self.rocker if "switch" in names.controls else self.probes.named
        (self.dial if "dial" in names.controls else first).setFocus()

    def _take_sight(self, seen: Seen) -> None:
        self.alarm.hears(seen.since_alarm is not None and seen.since_alarm < HEARD)
        percent = round(seen.dial * 100.0, 1)
        self.dial.stands(percent)
        self.percent.setText(f"{percent:g} %")
        self.rocker.stands(seen.switch)
        self.lamp.looks(seen.lamp, seen.bright)
        if not self.lamps.view().isVisible():
            self.lamps.setCurrentIndex(self.lamps.findData(seen.lamp_watts))
        self.probes.stand(seen.probing, turned_round=seen.turned_round)
        self.trims.stand(seen.presets)
        self.seen.setText(seen_in_words(seen))

    def _take_refusal(self, _request: dict[str, Any], why: str) -> None:
        self.says.setText(why)

    def _take_deed(self, request: dict[str, Any]) -> None:
        done = {
            "fault": lambda: f"Plays: {request['name'].replace('-', ' ')}.",
            "meter": lambda: f"{request['job']}: {self.acts.itemText(self.acts.findData(request['act']))}.",
        }.get(request["do"])
        self.says.setText(done() if done is not None else "")

    def _end(self) -> None:
        self._inside.setEnabled(False)
        self._faults_card.setEnabled(False)
        pale = QGraphicsOpacityEffect(self._inside)
        pale.setOpacity(0.5)
        self._inside.setGraphicsEffect(pale)
        self.alarm.end("The simulated bench has ended.")

    def closeEvent(self, event: QCloseEvent) -> None:
        """Closed by the person."""
        self.gone.emit()
        super().closeEvent(event)


def seen_in_words(seen: Seen) -> str:
    """What an onlooker sees and hears besides what is drawn."""
    lines = []
    if seen.relay is not None:
        lines.append(f"Mains relay: {'in' if seen.relay else 'out'}, {_clicked(seen.clicks)}.")
    for number, on in enumerate(seen.outputs):
        shows = f"{seen.volts[number]:.2f} V, {seen.amps[number]:.3f} A" if on else "off"
        lines.append(f"Supply's output {number + 1}: {shows}.")
    if not seen.outputs:
        state = "in" if seen.speaker else "out"
        lines.append(f"Loudspeaker relay: {state}, {_clicked(seen.speaker_clicks)}.")
        lines.append(f"Lamp: {seen.lamp}." if seen.lamp != "none" else "No lamp in series.")
    return "\n".join(lines)


def _clicked(number: int) -> str:
    if not number:
        return "has not clicked"
    return f"has clicked { ({1: 'once', 2: 'twice'}.get(number, f'{number} times')) }"


def _card() -> tuple[QFrame, QVBoxLayout]:
    made = QFrame()
    made.setProperty("card", True)
    column = QVBoxLayout(made)
    column.setContentsMargins(10, 6, 10, 8)
    column.setSpacing(6)
    return made, column


# --- the process -------------------------------------------------------------------------------------


class Parent(QObject):
    """Whoever started the panel: `gone` when standard input ends."""

    gone = Signal()

    def watch(self) -> None:
        """Read in a thread, past Python's own buffer, whose lock would outlive that thread at the exit."""
        threading.Thread(target=self._read, name="from parent", daemon=True).start()

    def _read(self) -> None:
        with suppress(OSError):
            while os.read(0, 4096):
                pass
        self.gone.emit()


class _Bugs:
    """Logs a bug and lets the exit status tell it."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        self.count += 1
        log.error("bug", exc_info=(kind, error, trace))
        sys.__excepthook__(kind, error, trace)


def main(argv: Sequence[str]) -> int:
    """Show the panel until its window is closed or standard input ends."""
    parser = argparse.ArgumentParser(prog="python -m benchlog.window.panel", allow_abbrev=False)
    parser.add_argument("control", help="the control port, tcp://HOST:PORT")
    parser.add_argument("--title", default=TITLE, help="of the window")
    args = parser.parse_args(argv)
    logs.start("panel")
    try:
        line = PanelLine(args.control)
    except BadInput as error:
        sys.stderr.write(f"{error}\n")
        return BAD_INPUT
    # Its own loop would hear a Ctrl-C only at the next turn of the interpreter.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    bugs = sys.excepthook = _Bugs()
    application = QApplication(["benchlog panel"])
    panel = Panel(Look(application), line, args.title)
    panel.gone.connect(application.quit)
    parent = Parent()
    parent.gone.connect(application.quit)
    parent.watch()
    stand_aside(panel)
    line.start()
    application.exec()
    line.close()
    return BUG if bugs.count else 0


def stand_aside(panel: Panel, room: QRect | None = None) -> None:
    """Show it at the right edge of the screen, no higher than there is room.

    Where benchlog's window has no room beside it, it is small at the upper corner, above CUT and the keys, and not
    kept in front.
    """
    room = room or panel.screen().availableGeometry()
    beside = room.width() >= LEAST_BESIDE + WIDTH
    # The window manager's own title takes its part.
    panel.resize(WIDTH, min(HEIGHT, round(room.height() * 0.93)) if beside else LEAST_HEIGHT)
    panel.move(room.right() - panel.width(), room.top())
    panel.in_front.setChecked(beside)
    panel.show()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
