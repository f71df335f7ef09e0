"""The person at the terminal: what a typed line answers, what it does, and what it must never be taken for."""

import queue
import threading
from collections.abc import Iterator
from typing import TextIO, cast

import pytest
from helpers.until import until

from benchlog.commands import terminal
from benchlog.errors import WATCH, BadInput
from benchlog.recorder import messages

DIAL = messages.Prompt(prompt=1, kind="set_dial", text="Set it to 40 %.")
DRILL = messages.Prompt(prompt=2, kind="switch_off", text="Drill.", data={"drill": True})
OFF = messages.Prompt(prompt=3, kind="switch_off", text="Switch the unit off now.")
PLUG = messages.Prompt(prompt=4, kind="switch_off", text="Off is not proven. Pull the plug.")


class Keyboard:
    """Lines that a test types, one after the other; taken means that the terminal waits for the next one."""

    def __init__(self) -> None:
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._taken = threading.Semaphore(0)

    def __iter__(self) -> Iterator[str]:
        while (line := self._lines.get()) is not None:
            yield f"{line}\n"
            self._taken.release()

    def types(self, *lines: str) -> None:
        """Type, and wait until each line was dealt with."""
        for line in lines:
            self._lines.put(line)
            assert self._taken.acquire(timeout=30.0)

    def closes(self) -> None:
        """End the input."""
        self._lines.put(None)


class Done:
    """A run that keeps what was done to it, and answers nothing."""

    def __init__(self) -> None:
        self.acts: list[tuple[str, int]] = []
        self.answers: list[tuple[int, bool]] = []
        self.told: list[messages.Request] = []

    def act(self, what: str, stage: int) -> None:
        """Keep an act."""
        self.acts.append((what, stage))

    def answer(self, prompt: int, yes: bool) -> None:
        """Keep an answer."""
        self.answers.append((prompt, yes))

    def tell(self, request: messages.Request) -> None:
        """Keep what somebody has seen, read or has a hand on."""
        self.told.append(request)

    def cut(self) -> None:
        """Keep a cut."""
        self.acts.append(("cut", -1))

    def leave(self) -> None:
        """Keep that nobody is there."""
        self.acts.append(("leave", -1))


class AtTerminal:
    """A terminal with what was told and done."""

    def __init__(self, *, by_itself: bool = False) -> None:
        self.keyboard = Keyboard()
        self.told: list[str] = []
        self.run = Done()
        self.terminal = terminal.Terminal(
            by_itself=by_itself, lines=cast(TextIO, self.keyboard), tell=self.told.append
        )
        self.terminal.attend(self.run)

    @property
    def done(self) -> list[tuple[str, int]]:
        """What was done to the run."""
        return self.run.acts

    def answered(self) -> list[tuple[int, bool]]:
        """What was answered since the last look."""
        answers, self.run.answers = self.run.answers, []
        return answers

    def offer(self, index: int, state: str = "ready") -> str:
        """The recorder offers the next stage, or says where the run stands."""
        return self.terminal.goes_on(messages.Stage(t=0, state=state, index=index, name="40 %"))

    def goes(self) -> None:
        """End the input, and wait until that was noticed."""
        self.keyboard.closes()
        until(lambda: self.terminal._ended, "the end of the input")


@pytest.fixture
def at() -> Iterator[AtTerminal]:
    person = AtTerminal()
    yield person
    person.keyboard.closes()


@pytest.fixture
def alone() -> Iterator[AtTerminal]:
    """A run that goes up by itself."""
    person = AtTerminal(by_itself=True)
    yield person
    person.keyboard.closes()


def test_what_is_touched_or_seen_is_told_as_it_is_spelled(at: AtTerminal) -> None:
    at.terminal.asked(DIAL)
    at.keyboard.types("clip offset L", "Trimmer", "idle idle L", "saw Lamp dark")
    assert at.run.told == [
        messages.Clip(id=0, trace="offset L"),
        messages.Trimmer(id=0),
        messages.IdleSet(id=0, trace="idle L"),
        messages.Observe(id=0, what="lamp dark"),
    ]
    # The prompt is open as before.
    assert (at.answered(), at.done) == ([], [])


def stage_with(spot: str, *waits: tuple[str, bool, str], state: str = "dwelling") -> messages.Stage:
    """Where the run stands, at a stage that asks for something."""
    return messages.Stage(t=0, state=state, index=1, name="40 %", spot=spot, waits=list(waits))


def test_a_spot_is_asked_for_once_and_what_is_typed_is_its_reading(at: AtTerminal) -> None:
    for _ in range(2):
        at.terminal.stands(stage_with("base of Q5"))
    assert at.told == ["> Measure base of Q5.  [what it reads, or skip]"]
    at.keyboard.types("12.5 mV", "SKIP")
    assert at.run.told == [
        messages.Spot(id=0, name="base of Q5", text="12.5 mV"),
        messages.Spot(id=0, name="base of Q5", text=""),
    ]
    # A key stays a key, whatever is to be measured.
    at.keyboard.types("h", "c")
    assert at.done == [("hold", -1), ("cut", -1)]


def test_a_spot_that_is_refused_is_asked_for_again(at: AtTerminal) -> None:
    at.terminal.stands(stage_with("base of Q5"))
    at.terminal.refused(BadInput("'1,234'", "can be meant in more than one way", "write 1.234 V"))
    assert at.told[-2:] == [
        "> '1,234': can be meant in more than one way; write 1.234 V.",
        "> Measure base of Q5.  [what it reads, or skip]",
    ]


def test_a_prompt_goes_before_a_spot_and_without_one_a_number_is_no_reading(at: AtTerminal) -> None:
    at.terminal.stands(stage_with("base of Q5"))
    at.terminal.asked(OFF)
    at.keyboard.types("12.5")
    at.keyboard.types("off")
    at.terminal.stands(stage_with(""))
    at.keyboard.types("12.5")
    assert (at.run.told, at.answered()) == ([], [(3, True)])


def test_a_run_that_goes_up_by_itself_goes_off_where_nobody_can_tell_what_is_asked(alone: AtTerminal) -> None:
    asks = (stage_with("base of Q5"), stage_with("", ("lamp dark", False, "")))
    for stage in asks:
        alone.terminal.stands(stage)
    assert alone.done == []
    alone.goes()
    alone.terminal.stands(stage_with("", ("lamp dark", True, "")))
    assert alone.done == []
    for stage in asks:
        alone.terminal.stands(stage)
    assert alone.done == [("off", -1), ("off", -1)]


def test_what_must_be_seen_is_asked_for_once_at_each_coming(at: AtTerminal) -> None:
    waits = (("dwell 5 s", False, ""), ("lamp dark", False, ""), ("relay click", True, ""))
    for _ in range(2):
        at.terminal.stands(stage_with("", *waits))
    assert at.told == ["> Say when it is so.  [saw lamp dark]"]
    at.terminal.stands(stage_with("", *waits, state="setting"))
    at.terminal.stands(stage_with("", *waits))
    assert len(at.told) == 2


@pytest.mark.parametrize(
    ("typed", "done"), [("", True), ("y", True), ("YES ", True), ("n", False), ("no", False)]
)
def test_a_line_answers_the_open_prompt_once(at: AtTerminal, typed: str, done: bool) -> None:
    at.terminal.asked(DIAL)
    at.keyboard.types(typed)
    assert at.answered() == [(1, done)]
    assert at.done == []
    at.keyboard.types(typed)
    assert at.answered() == []


def test_a_key_typed_while_a_prompt_is_open_is_still_a_key(at: AtTerminal) -> None:
    at.terminal.asked(DIAL)
    at.keyboard.types("o", "h", "c")
    assert at.done == [("off", -1), ("hold", -1), ("cut", -1)]
    at.keyboard.types("")
    assert at.answered() == [(1, True)]


def test_enter_does_not_say_that_the_unit_is_off(at: AtTerminal) -> None:
    at.terminal.asked(OFF)
    at.keyboard.types("", "y")
    assert at.told[-2:] == ["> Type off once it is off.", "> Type Enter, h, r, b, o, q or c."]
    at.keyboard.types("off")
    assert at.answered() == [(3, True)]


def test_enter_will_do_in_a_drill(at: AtTerminal) -> None:
    at.terminal.asked(DRILL)
    at.keyboard.types("")
    assert at.answered() == [(2, True)]


def test_a_prompt_that_was_taken_back_is_forgotten_and_the_next_one_stands(at: AtTerminal) -> None:
    at.terminal.asked(DIAL)
    at.terminal.never_mind()
    at.terminal.asked(OFF)
    at.keyboard.types("")
    assert at.told[-1] == "> Type off once it is off."
    at.keyboard.types("n")
    assert at.answered() == [(3, False)]
    at.terminal.never_mind()
    at.terminal.asked(DIAL)
    at.keyboard.types("")
    assert at.answered() == [(1, True)]


def test_the_urgent_prompt_waits_for_no_other(at: AtTerminal) -> None:
    at.terminal.asked(DIAL)
    at.terminal.asked(OFF)
    at.terminal.asked(PLUG)
    assert len(at.told) == 3
    at.keyboard.types("")
    assert at.told[-1] == "> Type off once it is off."
    at.keyboard.types("off")
    assert at.answered() == [(4, True)]


def test_no_other_prompt_takes_the_place_of_the_urgent_one(at: AtTerminal) -> None:
    at.terminal.asked(OFF)
    at.terminal.asked(DIAL)
    assert at.answered() == [(1, False)]
    at.keyboard.types("off")
    assert at.answered() == [(3, True)]


def test_the_next_stage_is_offered_once_and_taken_by_enter(at: AtTerminal) -> None:
    at.keyboard.types("")
    assert at.told == ["> Not ready yet."]
    assert [at.offer(0), at.offer(0)] == ["", ""]
    assert len(at.told) == 2
    at.keyboard.types("")
    assert at.done == [("next", 0)]
    # The same key once more belongs to the stage that was offered: the recorder refuses it.
    at.keyboard.types("")
    assert at.done == [("next", 0), ("next", 0)]
    at.offer(1)
    at.keyboard.types("", "b")
    assert at.done[2:] == [("next", 1), ("back", 1)]


def test_what_is_refused_is_told(at: AtTerminal) -> None:
    at.terminal.refused(BadInput("back", "this is the lowest stage", "switch off instead"))
    assert at.told == ["> back: this is the lowest stage; switch off instead."]


def test_what_could_not_be_set_is_tried_again_or_closed(at: AtTerminal) -> None:
    assert at.offer(0, "standing") == ""
    at.keyboard.types("", "q")
    assert at.done == [("next", 0), ("close", 0)]


def test_a_run_that_is_held_waits_for_whoever_is_there(at: AtTerminal) -> None:
    assert at.offer(0, "held") == ""


def test_a_run_that_goes_on_by_itself_goes_up_but_tries_nothing_twice(alone: AtTerminal) -> None:
    assert (alone.offer(0), alone.offer(0, "standing")) == ("next", "close")
    assert alone.offer(1, "held") == "off"


def test_a_run_that_goes_on_by_itself_needs_nobody_and_answers_no(alone: AtTerminal) -> None:
    alone.terminal.asked(DIAL)
    alone.goes()
    until(lambda: alone.run.answers, "the answer")
    alone.terminal.asked(DRILL)
    assert alone.answered() == [(1, False), (2, False)]
    assert alone.done == []
    assert (alone.offer(0), alone.offer(1, "held")) == ("next", "off")


def test_whoever_has_typed_may_hold_a_run_that_goes_on_by_itself_until_the_input_ends(
    alone: AtTerminal,
) -> None:
    alone.keyboard.types("h")
    assert alone.offer(1, "held") == ""
    alone.goes()
    assert alone.offer(1, "held") == "off"


def test_where_input_has_ended_nobody_is_there_whatever_the_run_does(at: AtTerminal) -> None:
    at.terminal.asked(DIAL)
    at.goes()
    until(lambda: at.run.answers, "the answer")
    at.terminal.asked(OFF)
    assert at.answered() == [(1, False), (3, False)]
    assert at.done == [("leave", -1)]
    assert at.offer(0) == ""


def test_messages_are_shown_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    for message in (
        messages.Event(t=83_400_000_000, kind="trip", text="lamp above its limit"),
        messages.Event(t=0, kind="steady", text="the source is steady"),
        messages.Notice(place="alarm", problem="no sound player was found", fix="install one"),
        messages.Notice(place=WATCH, problem="was killed", grave=True),
        messages.Meter(job="lamp", state="open"),
        messages.Meter(job="lamp", state="gone", text="the far end closed the connection"),
        messages.Stored(traces={}, t=0),
    ):
        terminal.show_text(message)
    assert capsys.readouterr().out.splitlines() == [
        "  1:23.4  lamp above its limit",
        " ! alarm: no sound player was found; install one.",
        "!! benchlog's watch: was killed.",
        " ! lamp: gone (the far end closed the connection)",
    ]
