"""The shapes of states: each of them can be drawn."""

import pytest
from pytestqt.qtbot import QtBot

from benchlog.window.look import Look
from benchlog.window.shapes import Mark, Shape


@pytest.mark.parametrize("shape", tuple(Shape))
def test_every_shape_can_be_drawn(look: Look, qtbot: QtBot, shape: Shape) -> None:
    mark = Mark(look, shape, 24)
    qtbot.addWidget(mark)
    image = mark.grab().toImage()
    colours = {image.pixel(x, y) for x in range(image.width()) for y in range(image.height())}
    assert len(colours) > 1
