"""The process that foretells, and the window's end of it: one that hangs or dies costs nothing but forecasts."""

import json
import math
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from benchlog.domain.plan_trace import Role
from benchlog.electronics.asked import DISCHARGE, READY, SETTLE, Answer, Question
from benchlog.window import forecaster_link
from benchlog.window.forecaster_link import LIVES, ForecasterLink

HANG = 60_000
SECONDS = tuple(0.5 * n for n in range(240))
RAIL = tuple(round(39.8 - 12.0 * math.exp(-t / 40.0), 2) for t in SECONDS)
STAND_IN = """
import json, os, sys, time
print("ready", flush=True)
for line in sys.stdin:
    asked = json.loads(line)
    if asked["key"] == "hangs":
        time.sleep(600)
    if asked["key"] == "dies":
        sys.exit(3)
    if asked["key"] == "garbled":
        print("{", flush=True)
        continue
    print(json.dumps({**EMPTY, "key": asked["key"], "kind": asked["kind"], "why": str(os.getpid())}), flush=True)
"""
EMPTY = json.loads(Answer("", "").line())


def question(key: str, kind: str = SETTLE) -> Question:
    return Question(key, kind, SECONDS, RAIL, digit=0.01, role=Role.RAIL)


@pytest.fixture
def make_link(qapp: QApplication) -> Iterator[Callable[..., ForecasterLink]]:
    made: list[ForecasterLink] = []

    def make(command: list[str] | None = None) -> ForecasterLink:
        made.append(ForecasterLink(command))
        return made[-1]

    yield make
    for link in made:
        link.close()


def stand_in() -> list[str]:
    return [sys.executable, "-c", f"EMPTY = {EMPTY!r}\n{STAND_IN}"]


# --- the process ---------------------------------------------------------------------------------


def test_it_answers_in_order_says_nothing_to_nonsense_and_ends_with_its_input() -> None:
    lines = [
        question("one").line(),
        "nonsense",
        "{}",
        question("two", DISCHARGE).line(),
        question("three", "?").line(),
    ]
    done = subprocess.run(
        [sys.executable, "-m", "benchlog.electronics"],
        input="\n".join(lines) + "\n",
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    ready, *told = done.stdout.splitlines()
    assert (ready, done.returncode, done.stderr) == (READY, 0, "")
    one, two, three = (Answer.of(line) for line in told)
    assert one.value is not None
    assert one.value[1] < 39.8 < one.value[2]
    assert (one.key, one.foretells) == ("one", True)
    assert (two.key, two.foretells, bool(two.why)) == ("two", False, True)
    assert (three.foretells, three.why) == (False, "nobody can answer that")


# --- the window's end of it ------------------------------------------------------------------------


def test_the_real_one_is_started_when_it_is_first_asked(
    make_link: Callable[..., ForecasterLink], qtbot: QtBot
) -> None:
    link = make_link()
    came: list[Answer] = []
    assert link.pid == 0
    link.ask(question("+B"), came.append)
    link.ask(question("part"), came.append)
    assert link.waits_for("part")
    qtbot.waitUntil(lambda: len(came) == 2, timeout=HANG)
    assert [answer.key for answer in came] == ["+B", "part"]
    assert all(answer.value is not None for answer in came)
    assert not link.waits_for("+B")


def test_a_newer_question_takes_the_place_of_one_that_waits(
    make_link: Callable[..., ForecasterLink], qtbot: QtBot
) -> None:
    link = make_link(stand_in())
    came: list[Answer] = []
    for kind in ("first", "second", "third"):
        link.ask(question("+B", kind), came.append)
    link.ask(question("past/1"), came.append)
    link.forget("past/")
    link.ask(question("last"), came.append)
    qtbot.waitUntil(lambda: any(answer.key == "last" for answer in came), timeout=HANG)
    assert [(answer.key, answer.kind) for answer in came] == [("+B", "third"), ("last", SETTLE)]


@pytest.mark.parametrize("how", ["hangs", "dies"])
def test_one_that_hangs_or_dies_loses_that_answer_and_goes_on(
    make_link: Callable[..., ForecasterLink], qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    monkeypatch.setattr(forecaster_link, "ANSWERS_FOR", 300 if how == "hangs" else 30_000)
    link = make_link(stand_in())
    came: list[Answer] = []
    link.ask(question("before"), came.append)
    qtbot.waitUntil(lambda: len(came) == 1, timeout=HANG)
    monkeypatch.setattr(forecaster_link, "ANSWERS_FOR", 300 if how == "hangs" else 30_000)
    link.ask(question(how), came.append)
    link.ask(question("after"), came.append)
    qtbot.waitUntil(lambda: not link.waits_for(how), timeout=HANG)
    monkeypatch.setattr(forecaster_link, "ANSWERS_FOR", 30_000)
    qtbot.waitUntil(lambda: came[-1].key == "after", timeout=HANG)
    assert [answer.key for answer in came] == ["before", "after"]
    # Another process: the one before is gone.
    assert came[0].why != came[1].why


def test_an_answer_nobody_can_read_is_none(make_link: Callable[..., ForecasterLink], qtbot: QtBot) -> None:
    link = make_link(stand_in())
    came: list[Answer] = []
    link.ask(question("garbled"), came.append)
    link.ask(question("after"), came.append)
    qtbot.waitUntil(lambda: len(came) == 1, timeout=HANG)
    assert came[0].key == "after"


def test_one_that_dies_again_and_again_is_left_alone(
    make_link: Callable[..., ForecasterLink], qtbot: QtBot
) -> None:
    link = make_link(stand_in())
    came: list[Answer] = []
    for n in range(LIVES):
        assert link.available
        link.ask(question("dies"), came.append)
        qtbot.waitUntil(lambda: not link.waits_for("dies"), timeout=HANG)
        assert link.available == (n + 1 < LIVES)
    link.ask(question("+B"), came.append)
    assert (came, link.pid, link.waits_for("+B")) == ([], 0, False)


def test_one_that_cannot_be_started_costs_nothing(
    make_link: Callable[..., ForecasterLink], qtbot: QtBot
) -> None:
    link = make_link(["/nonexistent/forecaster"])
    came: list[Answer] = []
    link.ask(question("+B"), came.append)
    qtbot.waitUntil(lambda: not link.available, timeout=HANG)
    link.ask(question("+B"), came.append)
    link.close()
    assert came == []


def test_questions_and_answers_survive_the_wire() -> None:
    asked = Question("k", DISCHARGE, (1.0, 2.0), (3.0, 4.0), (2.9, 3.9), (3.1, 4.1), 0.1, Role.RAIL, 1.0)
    assert Question.of(asked.line()) == asked
    told = Answer("k", SETTLE, (1.0, 0.9, 1.1), (5.0, 4.0, 6.0), why="", seen=12.0)
    assert Answer.of(told.line()) == told
    for line in ("[]", "{}", '{"key": "k", "kind": "settle", "value": [1]}'):
        with pytest.raises(ValueError, match=r"."):
            Answer.of(line)
        with pytest.raises(ValueError, match=r"."):
            Question.of(line)
