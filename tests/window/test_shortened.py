"""Names that have too little room: the two of a pair stay apart."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QRect
from PySide6.QtGui import QFontMetrics, QFontMetricsF
from pytestqt.qtbot import QtBot

from benchlog.window.elided import shortened
from benchlog.window.look import Look
from benchlog.window.numerals import Numeral, NumeralFace
from benchlog.window.tile import TileFace, crowded, named, said_in


@pytest.mark.parametrize(
    "pair",
    [
        ("regulated +", "regulated -"),
        ("raw + volts", "raw - volts"),
        ("offset L", "offset R"),
        ("100 W lamp", "150 W lamp"),
    ],
)
@pytest.mark.parametrize("share", [0.6, 0.8])
def test_the_two_of_a_pair_read_differently_and_fit(look: Look, pair: tuple[str, str], share: float) -> None:
    metrics = QFontMetrics(look.font(12))
    width = share * max(metrics.horizontalAdvance(name) for name in pair)
    one, other = (shortened(name, metrics, width) for name in pair)
    assert one != other
    assert all(metrics.horizontalAdvance(shown) <= width for shown in (one, other))


def test_what_fits_is_left_alone_and_next_to_no_room_is_no_trouble(look: Look) -> None:
    metrics = QFontMetrics(look.font(12))
    assert shortened("raw + volts", metrics, 500.0) == "raw + volts"
    assert metrics.horizontalAdvance(shortened("raw + volts", metrics, 8.0)) <= 14


def test_a_tile_of_the_foot_has_room_for_the_names_of_a_supply(look: Look) -> None:
    tile, age = 91.0, QFontMetrics(look.font(11)).horizontalAdvance("0 s")
    room = tile - 2 - 2 * 6 - age - 6
    for name in ("raw + volts", "raw - volts", "regulated +"):
        font, shown = named(look, name, room, small=True)
        assert shown == name
        assert QFontMetrics(font).horizontalAdvance(shown) <= room


@pytest.mark.parametrize("most", [12.0, 13.0, 14.0, 34.0])
def test_what_is_made_to_fit_is_never_wider_than_its_room(look: Look, most: float) -> None:
    for text in ("raw + volts", "regulating", "-100.0", "walks with you"):
        whole = QFontMetricsF(look.font(most, bold=False)).horizontalAdvance(text)
        for share in (0.99, 0.97, 0.93, 0.9, 0.86):
            font = look.fitting(text, share * whole, most, least=9.0, bold=False)
            assert QFontMetricsF(font).horizontalAdvance(text) <= share * whole


def test_what_is_wrong_is_never_written_over_the_name(look: Look) -> None:
    wrong = "did not follow"
    narrow = TileFace("+B", number="- -", wrong=wrong)
    assert crowded(look, narrow, 80.0, 13.0)
    assert not crowded(look, narrow, 200.0, 13.0)
    assert not crowded(look, TileFace("+B", number="0.00", unit="V", wrong=wrong), 80.0, 13.0)
    for room in (80.0, 60.0, 30.0):
        font, said = said_in(look, wrong, room, 13.0, bold=True)
        assert QFontMetrics(font).horizontalAdvance(said) <= room
        assert said[:1] == wrong[:1]
    font, said = said_in(look, wrong, 200.0, 13.0, bold=True)
    assert (said, font.pixelSize()) == (wrong, 13)


@pytest.mark.parametrize("wide", [91, 116])
def test_a_narrow_value_that_is_not_believed_says_why_below_its_name(
    look: Look, qtbot: QtBot, wide: int
) -> None:
    """The name stands in its head as it does where nothing is wrong: the reason is not drawn there."""
    face = TileFace("+B", number="- -", wrong="did not follow")
    heads = []
    for one in (face, replace(face, wrong="", number="", idle="did not follow")):
        numeral = Numeral(look)
        qtbot.addWidget(numeral)
        numeral.resize(wide, 62)
        numeral.show_face(NumeralFace(one, None, ""), room=False)
        picture = numeral.grab(QRect(9, 4, 60, 16)).toImage()
        danger = look.theme.danger.rgb()
        heads.append(any(picture.pixel(x, y) == danger for x in range(60) for y in range(16)))
    assert heads == [False, False]
