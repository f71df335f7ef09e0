"""A window's means for a test: the look, a library in a folder of its own, a run without or with a real recorder."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.window_rig import Rig
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from benchlog.window.keys import Keys
from benchlog.window.link import Link
from benchlog.window.look import Look
from benchlog.window.offer import Offer
from benchlog.window.run_view import Phase
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

Make = Callable[..., Work]


@pytest.fixture(autouse=True)
def muted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BENCHLOG_MUTE", "1")
    monkeypatch.setenv("BENCHLOG_THEME", "light")


@pytest.fixture(scope="session")
def look(qapp: QApplication) -> Look:
    return Look(qapp, "light")


@pytest.fixture
def make_work(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[Make]:
    """Make a `Work` with its library open; `recorder=True` starts a real one, without its alarm's sound."""
    made: list[tuple[Work, Link]] = []

    def make(*, recorder: bool = False, offer: Offer | None = None, player: list[str] | None = None) -> Work:
        link = Link(player)
        shelf = Shelf(tmp_path / f"library{len(made)}")
        work = Work(look, Keys(), Runner(link), shelf, offer)
        made.append((work, link))
        with qtbot.waitSignal(shelf.opened, timeout=60_000):
            shelf.open()
        if recorder:
            with qtbot.waitSignal(link.up, timeout=60_000):
                link.start()
        return work

    yield make
    for work, link in made:
        with qtbot.waitSignal(link.closed, timeout=60_000):
            link.close()
        work.shelf.close()


@pytest.fixture
def work(make_work: Make) -> Work:
    """One without a recorder."""
    return make_work()


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[Rig]:
    """The whole frame on a recorder that says what a test lets it say."""
    made = Rig(look, tmp_path)
    qtbot.addWidget(made.frame)
    made.frame.show()
    yield made
    made.runner.view.phase = Phase.CLOSED
    made.frame.close()
    made.shelf.close()
