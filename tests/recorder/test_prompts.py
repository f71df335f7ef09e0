"""A person is asked once, answers once, and nobody waits for an answer that cannot come any more."""

import threading

import pytest
from helpers.stand_ins import Outbox
from helpers.until import until

from benchlog.errors import BadInput
from benchlog.recorder.messages import Prompt, Withdrawn
from benchlog.recorder.prompts import Prompts


@pytest.fixture
def outbox() -> Outbox:
    return Outbox()


@pytest.fixture
def prompts(outbox: Outbox) -> Prompts:
    return Prompts(outbox.send)


def test_a_prompt_is_published_and_its_answer_goes_to_whoever_asked(prompts: Prompts, outbox: Outbox) -> None:
    answers: list[tuple[str, bool]] = []
    first = prompts.ask(
        "set_dial", "Turn it to 40 %.", {"fraction": 0.4}, lambda yes: answers.append(("1", yes))
    )
    second = prompts.ask("switch_on", "Switch on.", {}, lambda yes: answers.append(("2", yes)))
    assert outbox.sent == [
        Prompt(prompt=first, kind="set_dial", text="Turn it to 40 %.", data={"fraction": 0.4}),
        Prompt(prompt=second, kind="switch_on", text="Switch on."),
    ]
    assert prompts.answer(second, True) == "switch_on"
    assert prompts.answer(first, False) == "set_dial"
    assert answers == [("2", True), ("1", False)]


def test_an_answer_counts_once_and_only_to_what_was_asked(prompts: Prompts) -> None:
    answers: list[bool] = []
    number = prompts.ask("switch_on", "Switch on.", {}, answers.append)
    prompts.answer(number, True)
    for wrong in (number, 77):
        with pytest.raises(BadInput, match=f"prompt {wrong}: is not open"):
            prompts.answer(wrong, True)
    assert answers == [True]


def test_who_waits_is_blocked_until_the_answer_comes(prompts: Prompts, outbox: Outbox) -> None:
    got: list[bool] = []
    waiting = threading.Thread(target=lambda: got.append(prompts.ask_and_wait("heard_alarm", "Heard?", {})))
    waiting.start()
    asked = until(lambda: outbox.of(Prompt), "the prompt")[0]
    assert got == []
    prompts.answer(asked.prompt, True)
    waiting.join()
    assert got == [True]


def test_dropped_prompts_are_answered_no(prompts: Prompts) -> None:
    answers: list[tuple[str, bool]] = []
    for kind in ("set_dial", "switch_on", "switch_off"):
        prompts.ask(kind, kind, {}, lambda yes, kind=kind: answers.append((kind, yes)))  # type: ignore[misc]
    prompts.drop("set_dial", "switch_on")
    assert answers == [("set_dial", False), ("switch_on", False)]
    prompts.drop()
    assert answers[2:] == [("switch_off", False)]
    prompts.drop()
    assert len(answers) == 3


def test_what_is_dropped_is_told_to_be_withdrawn_and_what_was_answered_is_not(
    prompts: Prompts, outbox: Outbox
) -> None:
    answered = prompts.ask("set_dial", "Turn it to 40 %.", {}, lambda _: None)
    dropped = prompts.ask("switch_on", "Switch on.", {}, lambda _: None)
    prompts.answer(answered, True)
    prompts.drop()
    prompts.drop()
    assert outbox.of(Withdrawn) == [Withdrawn(prompt=dropped)]


def test_what_is_over_already_is_never_asked(prompts: Prompts, outbox: Outbox) -> None:
    answers: list[bool] = []
    prompts.ask("switch_on", "Switch on.", {}, answers.append, lambda: True)
    assert (answers, outbox.sent) == ([False], [])


def test_nobody_waits_for_a_question_of_a_run_that_is_over(prompts: Prompts) -> None:
    assert prompts.ask_and_wait("relay_clicked", "Did it click?", {}, over=lambda: True) is False


def test_when_nobody_is_left_everything_is_answered_no(prompts: Prompts, outbox: Outbox) -> None:
    answers: list[bool] = []
    prompts.ask("switch_off", "Switch off.", {}, answers.append)
    prompts.nobody_left()
    assert answers == [False]
    assert prompts.ask_and_wait("heard_alarm", "Heard?", {}) is False
    assert len(outbox.of(Prompt)) == 1
