"""Drives the real window as a person would: by keys and mouse, with a hand at the simulated bench beside it.

Everything is real but the person: the program with its recorder and library, the simulated bench as a
process of its own. Waiting is for conditions, never for a time.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLineEdit, QPlainTextEdit, QWidget

from benchlog import resources
from benchlog.commands.simulated import Hands, Simulated
from benchlog.window.app import Program
from benchlog.window.keycap import KeyCap
from benchlog.window.offer import Offer
from benchlog.window.revival import NOT_RUNNING
from benchlog.window.run_view import Phase, RunView

BREATH = 600
"""Milliseconds a person takes between reading a sentence and pressing a key."""
AGAIN = 10.0
"""Seconds after which a person who sees that nothing came of a key presses it again."""
HANG = 100.0
"""Seconds after which something that never comes is a failure."""


def offer_of(example: str, bench_text: str) -> Offer:
    """What the window is opened on: an example's unit and plan, and a bench with real addresses."""
    folder = resources.path("examples", example)
    return Offer(
        bench_text=bench_text,
        bench_name="bench.toml",
        plan_text=(folder / "plan.toml").read_text("utf-8"),
        plan_name="plan.toml",
        unit_text=(folder / "unit.toml").read_text("utf-8"),
        unit_name="unit.toml",
    )


class NeverCame(AssertionError):
    """Something did not come to hold."""


class Driven:
    """A window on a simulated bench, and the hands of the person before it."""

    def __init__(
        self, library: Path, offer: Offer, hands: Hands, *, rate: float, player: list[str], show: bool = True
    ) -> None:
        """Open the window on a library; `hands` are at the simulated bench whose files are offered."""
        library.mkdir(parents=True, exist_ok=True)
        self.hands = hands
        self.simulated: Simulated | None = None
        application = QApplication.instance() or QApplication(sys.argv[:1])
        if not isinstance(application, QApplication):
            raise TypeError("there is an application without windows")
        self.program = Program(application, library, offer, rate, player)
        self.frame = self.program.frame
        if show:
            self.frame.show()
            self.frame.activateWindow()
        self.until(self._recorder_runs, "the recorder")

    def _recorder_runs(self) -> bool:
        """Whether it does; where a loaded machine did not bring it up in its time, F7 starts it again."""
        if any(one.text.startswith(NOT_RUNNING) for one in self.frame.notices.standing()):
            self.frame.notices.take_back(NOT_RUNNING)
            self.key(Qt.Key.Key_F7)
        return self.program.link.running

    @classmethod
    def simulating(
        cls, library: Path, example: str = "amplifier", fault: str = "healthy", speed: float = 10.0
    ) -> Driven:
        """A window on a simulated bench of its own, which ends with it."""
        library.mkdir(parents=True, exist_ok=True)
        simulated = Simulated(example, fault, speed, library / "witness.jsonl", played=True)
        player = [sys.executable, "-m", "benchlog.simbench.ear", simulated.control]
        offer = offer_of(example, simulated.bench_of(example))
        made = cls(library, offer, simulated.hands, rate=speed, player=player)
        made.simulated = simulated
        return made

    # --- looking and waiting -------------------------------------------------------------------------

    @property
    def view(self) -> RunView:
        """What the window knows of the run."""
        return self.program.runner.view

    def until(self, holds: Callable[[], object], what: str, seconds: float = HANG) -> None:
        """Wait until something holds; NeverCame names it."""
        end = time.monotonic() + seconds
        while not holds():
            if time.monotonic() > end:
                standing = "; ".join(one.text for one in self.frame.notices.standing())
                raise NeverCame(f"{what} (page {self.frame.page.title}, {self.view.phase}; said: {standing})")
            QTest.qWait(20)

    def phase(self, *phases: Phase) -> None:
        """Wait until the run has come to one of these."""
        self.until(lambda: self.view.phase in phases, f"phase {' or '.join(phases)}")

    def settle(self) -> None:
        """Let everything that waits be drawn."""
        for _ in range(5):
            QTest.qWait(10)

    # --- keys and mouse ------------------------------------------------------------------------------

    def key(self, *keys: Qt.Key) -> None:
        """Press keys one after the other, wherever the focus is."""
        for one in keys:
            QTest.keyClick(self._target(), one)
            self.settle()

    def leave(self, phase: Phase, key: Qt.Key) -> None:
        """Press a key that leads on from a phase; again only where nothing came of it for a long while.

        What it starts may take its time, and a second press would count for what comes next.
        """
        pressed = -math.inf
        if phase is Phase.CHECKED:
            self.go_without()

        def left() -> bool:
            nonlocal pressed
            if self.view.phase is phase and time.monotonic() - pressed > AGAIN:
                QTest.qWait(BREATH)
                self.key(key)
                pressed = time.monotonic()
            return self.view.phase is not phase

        self.until(left, f"the end of phase {phase}")

    def say_cold(self) -> None:
        """Say of every cold check that it is so, one by one, as somebody does who has made them."""

        def none_left() -> bool:
            cold = self.view.cold
            if cold is None or cold.done:
                return True
            QTest.qWait(BREATH)
            self.key(Qt.Key.Key_Enter)
            return False

        self.until(none_left, "the end of the cold checks")

    def go_without(self) -> None:
        """Override every cold check that is still open: this person has other things in mind."""

        def none_left() -> bool:
            cold = self.view.cold
            if cold is None or cold.asked is None:
                return True
            self.key(Qt.Key.Key_O)
            return False

        self.until(none_left, "the end of the cold checks")

    def write(self, text: str) -> None:
        """Type text, wherever the focus is."""
        for letter in text:
            QTest.keyClicks(self._target(), letter)
        self.settle()

    def click(self, what: str | QWidget) -> None:
        """Click a widget, or the shown button whose text or accessible name begins so."""
        widget = self.button(what) if isinstance(what, str) else what
        middle = QPoint(widget.width() // 2, widget.height() // 2)
        QTest.mouseClick(widget, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, middle)
        self.settle()

    def shows(self, begins: str) -> bool:
        """Whether such a button is shown."""
        try:
            self.button(begins)
        except NeverCame:
            return False
        return True

    def button(self, begins: str) -> QAbstractButton:
        """The shown button whose text or accessible name begins so, whatever the case."""
        wanted = begins.casefold()
        for one in self.frame.findChildren(QAbstractButton):
            named = (one.text().casefold(), one.accessibleName().casefold())
            if one.isVisible() and one.isEnabled() and any(name.startswith(wanted) for name in named):
                return one
        shown = sorted(
            {
                one.text() or one.accessibleName()
                for one in self.frame.findChildren(QAbstractButton)
                if one.isVisible()
            }
        )
        raise NeverCame(f"a button {begins!r}; there are: {', '.join(shown)}")

    def fill(self, begins: str, text: str) -> None:
        """Click a field by its accessible name or placeholder and type into it."""
        wanted = begins.casefold()
        fields: list[QLineEdit | QPlainTextEdit] = [
            *self.frame.findChildren(QLineEdit),
            *self.frame.findChildren(QPlainTextEdit),
        ]
        for one in fields:
            names = (one.accessibleName().casefold(), one.placeholderText().casefold())
            if one.isVisible() and any(name.startswith(wanted) for name in names):
                self.click(one)
                one.setFocus()
                QTest.keyClicks(one, text)
                self.settle()
                return
        raise NeverCame(f"a field {begins!r}")

    def caps(self) -> dict[str, str]:
        """The keys that are drawn just now, and what they do."""
        caps = [cap for cap in self.frame.findChildren(KeyCap) if cap.isVisible() and cap.isEnabled()]
        return {cap.accessibleName(): cap.toolTip() for cap in caps}

    def _target(self) -> QWidget:
        focus = QApplication.focusWidget()
        return focus if focus is not None and focus.window() is self.frame else self.frame

    # --- the hand at the simulated bench -------------------------------------------------------------

    def hand(self, **request: Any) -> dict[str, Any]:
        """Do something at the simulated bench, as its panel does."""
        return self.hands.ask(**request)

    def asked_for(self, kind: str) -> bool:
        """Whether the window asks for this just now."""
        return self.view.prompt is not None and self.view.prompt.kind == kind

    def obey(self) -> bool:
        """Do what the window asks the person to do, if it asks; then say by Enter that it is done."""
        prompt = self.view.prompt
        if prompt is None:
            return False
        if prompt.kind == "set_dial":
            self.hand(do="turn", fraction=prompt.data["fraction"])
        elif prompt.kind in ("switch_on", "switch_off"):
            self.hand(do="switch", on=prompt.kind == "switch_on")
        elif prompt.kind == "fit_lamp":
            self.hand(do="lamp", watts=prompt.data["watts"])
        QTest.qWait(BREATH)
        if self.view.prompt is prompt:
            self.key(Qt.Key.Key_Enter)
        return True

    def obey_until(self, holds: Callable[[], object], what: str) -> None:
        """Do whatever is asked until something holds."""

        def step() -> object:
            if holds():
                return True
            self.obey()
            return holds()

        self.until(step, what)

    def climb(self, to: Callable[[], bool]) -> None:
        """Go up the ladder by Enter, doing what is asked, until something holds."""

        def step() -> bool:
            if to():
                return True
            if self.obey():
                return to()
            if self.view.is_live and self.view.stage is not None and self.view.stage.state == "ready":
                QTest.qWait(BREATH)
                self.key(Qt.Key.Key_Enter)
            return to()

        self.until(step, "the top of the ladder")

    # --- the end -------------------------------------------------------------------------------------

    def close(self) -> None:
        """Close the window as a person would, and everything with it."""
        ended: list[bool] = []
        self.program.ended.connect(lambda: ended.append(True))
        self.frame.close()
        if self.frame.isVisible():
            self.frame.close()
        self.until(lambda: ended, "the end of the program")
        if self.simulated is not None:
            self.simulated.close()
        self.program.deleteLater()
        self.frame.deleteLater()
        self.settle()
