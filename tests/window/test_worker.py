"""Work off the GUI thread: answers come back on it, the newest of a kind wins, errors are told."""

import threading

import pytest
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from benchlog.errors import BadInput, BenchlogError
from benchlog.window.worker import Worker


def test_an_answer_comes_back_on_the_thread_that_asked(qtbot: QtBot) -> None:
    worker = Worker("test")
    seen: list[tuple[str, str]] = []
    worker.do(
        lambda: threading.current_thread().name,
        lambda name: seen.append((name, threading.current_thread().name)),
    )
    qtbot.waitUntil(lambda: bool(seen))
    assert seen == [("test", threading.main_thread().name)]
    worker.close()


def test_of_several_of_one_kind_only_the_newest_is_answered(qtbot: QtBot) -> None:
    worker = Worker("test")
    begun, go_on = threading.Event(), threading.Event()
    seen: list[int] = []
    done: list[int] = []

    def work(number: int) -> int:
        begun.set()
        go_on.wait(60)
        done.append(number)
        return number

    for number in range(5):
        worker.do(lambda n=number: work(n), seen.append, key="look")  # type: ignore[misc]
    begun.wait(60)
    go_on.set()
    qtbot.waitUntil(lambda: 4 in seen)
    assert seen == [4]
    assert len(done) <= 2
    worker.close()


def test_what_went_wrong_is_told_to_who_asked_else_to_everybody(qtbot: QtBot) -> None:
    worker = Worker("test")
    heard: list[BenchlogError] = []
    everybody: list[BenchlogError] = []
    worker.troubled.connect(everybody.append)

    def fail() -> None:
        raise BadInput("here", "is wrong", "mend it")

    worker.do(fail, None, heard.append)
    worker.do(fail)
    qtbot.waitUntil(lambda: bool(everybody))
    assert [str(error) for error in heard + everybody] == ["here: is wrong; mend it."] * 2
    worker.close()


def test_nothing_is_told_to_a_page_that_is_gone(qtbot: QtBot) -> None:
    worker = Worker("test")
    go_on = threading.Event()
    owner = QObject()
    seen: list[bool] = []
    worker.do(lambda: go_on.wait(60), seen.append, owner=owner)
    owner.deleteLater()
    qtbot.wait_until(lambda: not _valid(owner))
    go_on.set()
    worker.do(lambda: True, lambda _: seen.append(False))
    qtbot.waitUntil(lambda: bool(seen))
    assert seen == [False]
    worker.close()


def test_what_takes_long_says_so_and_stops_saying_so(qtbot: QtBot) -> None:
    worker = Worker("test")
    go_on = threading.Event()
    said: list[str] = []
    worker.waiting.connect(said.append)
    worker.do(lambda: go_on.wait(60), says="Reading the run")
    qtbot.waitUntil(lambda: said == ["Reading the run"], timeout=60_000)
    go_on.set()
    qtbot.waitUntil(lambda: said == ["Reading the run", ""])
    worker.close()


@pytest.mark.parametrize("key", ["", "look"])
def test_a_bug_is_raised_where_it_is_seen(qtbot: QtBot, key: str) -> None:
    worker = Worker("test")

    def bug() -> None:
        raise ZeroDivisionError("a bug")

    with qtbot.capture_exceptions() as caught:
        worker.do(bug, key=key)
        qtbot.waitUntil(lambda: bool(caught))
    assert caught[0][0] is ZeroDivisionError
    worker.close()


@pytest.mark.parametrize("key", ["", "look"])
def test_who_waits_hears_of_a_bug_before_it_is_raised(qtbot: QtBot, key: str) -> None:
    worker = Worker("test")
    heard: list[str] = []

    def bug() -> None:
        raise ZeroDivisionError("by nothing")

    with qtbot.capture_exceptions() as caught:
        worker.do(bug, None, lambda error: heard.append(str(error)), key=key)
        qtbot.waitUntil(lambda: bool(caught))
    assert heard == ["benchlog: has a bug here (ZeroDivisionError: by nothing); the log has the details."]
    worker.close()


def test_a_bug_nobody_waits_for_any_more_is_raised_all_the_same(qtbot: QtBot) -> None:
    worker = Worker("test")
    begun, go_on = threading.Event(), threading.Event()

    def bug() -> None:
        begun.set()
        go_on.wait(60)
        raise ZeroDivisionError("a bug")

    with qtbot.capture_exceptions() as caught:
        worker.do(bug, key="look")
        assert begun.wait(60)
        worker.do(lambda: None, key="look")
        go_on.set()
        qtbot.waitUntil(lambda: bool(caught))
    assert caught[0][0] is ZeroDivisionError
    worker.close()


def _valid(owner: QObject) -> bool:
    try:
        owner.objectName()
    except RuntimeError:
        return False
    return True
