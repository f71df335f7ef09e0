"""The trimmers on the panel of the simulated bench: one chosen, turned a bit, never beyond its end."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLayout, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from benchlog.window.panel_trims import ENDS, Trims


def test_a_trimmer_is_turned_a_bit_by_each_press_and_stops_at_its_end(qtbot: QtBot) -> None:
    trims, window = Trims(), QWidget()
    qtbot.addWidget(window)
    column = QVBoxLayout(window)
    column.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
    column.addWidget(trims)
    window.resize(300, 100)
    window.show()
    assert trims.isHidden()
    trims.stand({"idle left": 1.0, "offset right": ENDS["offset"][1]})
    turned: list[tuple[str, float]] = []
    trims.turned.connect(lambda name, to: turned.append((name, to)))
    qtbot.mouseClick(trims.more, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(trims.less, Qt.MouseButton.LeftButton)
    assert turned == [("idle left", pytest.approx(1.03)), ("idle left", pytest.approx(1.0))]
    trims.which.setCurrentText("offset right")
    qtbot.mouseClick(trims.more, Qt.MouseButton.LeftButton)
    assert turned[-1] == ("offset right", ENDS["offset"][1])
    trims.stand({})
    assert trims.isHidden()
