"""Garbage is collected on the GUI thread alone: a widget taken apart elsewhere is a crash some time later."""

import gc
import threading
import weakref

from pytestqt.qtbot import QtBot

from benchlog.window.tidy import Tidy


class Knot:
    """Refers to itself, so that only a collection can free it; notes in which thread that was."""

    freed_in = ""

    def __init__(self) -> None:
        self.me = self

    def __del__(self) -> None:
        Knot.freed_in = threading.current_thread().name


def test_what_another_thread_allocates_collects_nothing_there(qtbot: QtBot) -> None:
    gc.enable()
    tidy = Tidy()
    gone = weakref.ref(Knot())
    worker = threading.Thread(target=lambda: [[n] for n in range(200_000)], name="busy")
    worker.start()
    worker.join()
    assert gone() is not None
    keep = [[n] for n in range(gc.get_threshold()[0] + 1)]
    qtbot.waitUntil(lambda: gone() is None)
    assert Knot.freed_in == threading.main_thread().name
    assert keep
    tidy.close()
    assert gc.isenabled()
    gc.disable()


def test_the_oldest_generation_that_is_due_is_collected(qtbot: QtBot) -> None:
    tidy = Tidy()
    for _ in range(gc.get_threshold()[1] + 2):
        gc.collect(0)
    old = gc.get_stats()[1]["collections"]
    tidy.look()
    assert gc.get_stats()[1]["collections"] == old + 1
    tidy.close()
