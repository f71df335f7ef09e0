"""Somebody at the bench page: presses, types, opens files, reads what is shown."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton, QWidget
from pytestqt.qtbot import QtBot

from benchlog.window.bench_page import BenchPage
from benchlog.window.work import Work


def two_meters(name: str = "Small bench") -> str:
    return f"""file = "benchlog bench 1"
name = "{name}"

# what the lamp drops
[[meter]]
job = "lamp"
profile = "scpi-multimeter"
address = "tcp://192.0.2.7:5025"
function = "volts_ac"
link_isolated = "unknown"

[[meter]]
job = "+B"
profile = "scpi-multimeter"
address = "tcp://192.0.2.8:5025"
function = "volts_dc"

[[off_switch]]
kind = "hand"
job = "wall switch"
"""


class Person:
    """Somebody at the page."""

    def __init__(self, qtbot: QtBot, work: Work) -> None:
        self.bot = qtbot
        self.work = work
        self.page = BenchPage(work)
        qtbot.addWidget(self.page)
        self.page.resize(1240, 750)
        self.stood: list[tuple[Any, ...]] = []
        self.said: list[str] = []
        work.step_stands.connect(lambda *stood: self.stood.append(stood))
        work.said.connect(lambda text, _: self.said.append(text))
        self.page.show()
        self.page.came()
        self.until(lambda: self.page.form.kind.count() >= 3)

    def until(self, holds: Callable[[], object]) -> None:
        self.bot.waitUntil(lambda: bool(holds()), timeout=30_000)

    def button(self, text: str, at: int = 0) -> QPushButton:
        def found() -> list[QPushButton]:
            return [
                one for one in self.page.findChildren(QPushButton) if one.text() == text and one.isVisible()
            ]

        self.until(lambda: len(found()) > at)
        return found()[at]

    def press(self, text: str, at: int = 0) -> None:
        self.bot.keyClick(self.button(text, at), Qt.Key.Key_Space)

    def type(self, field: QWidget, text: str, *keys: Qt.Key) -> None:
        self.bot.keyClicks(field, text)
        for key in keys:
            self.bot.keyClick(field, key)

    def open(self, text: str, folder: Path) -> None:
        """Open a bench from a file somewhere."""
        file = folder / "opened.toml"
        file.write_text(text, encoding="utf-8")
        self.press("Open a bench")
        self.press("Open one from a file")
        self.page.choose.chosen.emit(file)
        self.until(lambda: self.page.views.shown is self.page.view)

    def attach_one(self, job: str, address: str, function: str = "") -> None:
        self.press("Attach an instrument")
        form = self.page.form
        self.type(form.job, job)
        self.type(form.address, address)
        if function:
            form.function.setCurrentIndex(form.function.findData(function))
        self.press("Put it on the bench")
        self.until(lambda: job in self.page.view.cards)

    @property
    def lines(self) -> list[str]:
        return [line.partition("\t")[2].replace("\t", "  ") for line in self.page.view.transcript.lines]

    def state(self, job: str) -> str:
        return self.page.view.cards[job].accessibleName()

    @property
    def stands(self) -> tuple[Any, ...]:
        return self.stood[-1]
