"""What is read of the library while an act is being kept never hides what the act did."""

import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from helpers.parts_rig import FakeRig
from pytestqt.qtbot import QtBot

from benchlog.window import parts_in_hand
from benchlog.window.look import Look
from benchlog.window.parts_book import Book
from benchlog.window.parts_walk import read_book


@pytest.fixture
def rig(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[FakeRig]:
    made = FakeRig(qtbot, look, tmp_path / "library")
    made.bring()
    made.go("R106")
    yield made
    made.close()


def test_a_book_that_was_read_before_a_reading_was_kept_is_read_once_more(
    rig: FakeRig, monkeypatch: pytest.MonkeyPatch
) -> None:
    read, go_on, asked = read_book, threading.Event(), threading.Event()
    answers: list[int] = []

    def slowly(*given: Any) -> Book:
        """Read, and answer the first time only once the reading is kept."""
        book = read(*given)
        asked.set()
        assert go_on.wait(30.0)
        answers.append(len([row for row in book.rows if row.kept is not None]))
        return book

    monkeypatch.setattr(parts_in_hand, "read_book", slowly)
    rig.page.hand.refresh()
    rig.until(asked.is_set)
    rig.press("4.7\n")
    rig.until(lambda: rig.reads("R106") == "within")
    go_on.set()
    rig.until(lambda: len(answers) > 1)
    assert answers[:2] == [0, 1]
    rig.until(lambda: rig.page.hand.book.round is not None)
    assert rig.reads("R106") == "within"
