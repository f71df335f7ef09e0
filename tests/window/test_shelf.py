"""The library as the window has it: acts asked for at any moment, and another benchlog that holds it."""

import threading
from pathlib import Path

from pytestqt.qtbot import QtBot

from benchlog.errors import BenchlogError
from benchlog.store.library import Library
from benchlog.window.shelf import Shelf


def test_an_act_asked_for_while_the_library_opens_is_done(qtbot: QtBot, tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "library")
    troubles: list[BenchlogError] = []
    done: list[Path] = []
    shelf.troubled.connect(troubles.append)
    shelf.open()
    shelf.edit(lambda library: library.folder, done.append)
    # Both are done before the GUI thread hears of either.
    after = threading.Event()
    shelf._writing.do(after.set)
    assert after.wait(60)
    qtbot.waitUntil(lambda: bool(done or troubles))
    assert (done, troubles) == ([shelf.folder], [])
    shelf.close()


def test_a_library_that_another_benchlog_holds_can_be_read_and_says_why_not_written(
    qtbot: QtBot, tmp_path: Path
) -> None:
    with Library.open(tmp_path / "library"):
        shelf = Shelf(tmp_path / "library")
        troubles: list[str] = []
        read: list[bool] = []
        shelf.troubled.connect(lambda error: troubles.append(str(error)))
        shelf.open()
        shelf.read(lambda folder: folder.is_dir(), read.append)
        shelf.edit(lambda library: library.folder)
        qtbot.waitUntil(lambda: bool(read) and len(troubles) == 2)
        assert read == [True]
        assert troubles[1].endswith("is not open for writing; close the other benchlog first.")
        shelf.close()
    with Library.open(tmp_path / "library"):
        pass  # Nobody holds on to it.
