"""Where a window stands: within the screen, clear of the one beside it, never below its least size."""

import pytest
from PySide6.QtWidgets import QMainWindow, QWidget
from pytestqt.qtbot import QtBot

from benchlog.window.place import TITLE, stand


@pytest.mark.parametrize("beside", [0, 100])
def test_a_window_is_no_larger_than_there_is_room(qtbot: QtBot, beside: int) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    room = window.screen().availableGeometry()
    window.resize(5000, 4000)
    stand(window, beside)
    assert (window.width(), window.height()) == (room.width() - beside, room.height() - TITLE)
    if beside:
        assert window.pos() == room.topLeft()


def test_a_small_window_stays_as_it_is(qtbot: QtBot) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    window.resize(300, 200)
    stand(window, 100)
    assert (window.width(), window.height()) == (300, 200)


def test_a_window_never_goes_below_its_least_size(qtbot: QtBot) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    window.setMinimumSize(640, 560)
    window.resize(1440, 900)
    stand(window, 500)
    assert window.width() == 640


@pytest.mark.parametrize(("least", "kept"), [(200, 100), (750, 0)])
def test_what_a_larger_window_shows_stays_clear_of_the_one_beside_it(
    qtbot: QtBot, least: int, kept: int
) -> None:
    window = QMainWindow()
    inside = QWidget()
    window.setCentralWidget(inside)
    window.setMinimumSize(least, 200)
    qtbot.addWidget(window)
    room = window.screen().availableGeometry()
    stand(window, 100)
    window.show()
    window.setGeometry(room)
    # Where there is no room for both it is better covered than squeezed.
    qtbot.waitUntil(lambda: inside.width() == room.width() - kept, timeout=30_000)
    window.setGeometry(0, 0, least, 400)
    qtbot.waitUntil(lambda: inside.width() == least, timeout=30_000)
