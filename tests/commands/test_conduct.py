"""The conductor between recorder and person: what it asks for, what it lets go, what it never waits for."""

import queue
import threading
from collections.abc import Callable
from typing import cast

import pytest
from helpers.until import until

from benchlog.commands.conduct import Conductor, Controls, Course, Ear
from benchlog.errors import WATCH, BadInput, Gone
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder

Reply = Callable[[messages.Request], list[messages.Message]]


class Wire:
    """A recorder that says what the test has it say; `sent` is what it was asked."""

    def __init__(self) -> None:
        self.sent: list[messages.Request] = []
        self.ear = Ear(lambda _: None)
        self.alive = True
        self.refuses: dict[str, tuple[str, str, str]] = {}

    def post(self, request: messages.Request) -> int:
        """Keep what is asked, and answer proof and arming at once; acts where they are refused."""
        if not self.alive:
            raise Gone(WATCH, "is no longer running", "start benchlog again")
        self.sent.append(request)
        number = len(self.sent)
        name = request.what if isinstance(request, messages.Act) else type(request).__name__
        if name in self.refuses:
            self.ear.hear(messages.Refused(id=number, faults=[self.refuses[name]]))
        elif not isinstance(request, messages.Answer):
            self.ear.hear(messages.Done(id=number))
        return number

    @property
    def acts(self) -> list[tuple[str, int]]:
        """The acts and cuts it was asked for."""
        return [
            (one.what, one.stage) if isinstance(one, messages.Act) else ("cut", -1)
            for one in list(self.sent)
            if isinstance(one, messages.Act | messages.Cut)
        ]

    def says(self, *said: messages.Message) -> None:
        """Publish something."""
        for message in said:
            self.ear.hear(message)

    def stage(self, state: str, index: int = 0) -> None:
        """Publish where the run stands."""
        self.says(messages.Stage(t=0, state=state, index=index, name=f"stage {index}"))

    def closes(self, outcome: str = "completed") -> None:
        """Publish the end."""
        self.says(messages.Closed(path="x.db", outcome=outcome, reason="over", folded=True))


class Somebody:
    """A person who keeps what happened and says what they are told to say."""

    def __init__(self) -> None:
        self.run: Controls | None = None
        self.saw: list[object] = []
        self.says: dict[str, str] = {}

    def attend(self, run: Controls) -> None:
        """Keep the controls."""
        self.run = run

    def asked(self, prompt: messages.Prompt) -> None:
        """Keep the prompt's number."""
        self.saw.append(prompt.prompt)

    def never_mind(self) -> None:
        """Keep that it was taken back."""
        self.saw.append("never mind")

    def stands(self, stage: messages.Stage) -> None:
        """Keep the spot that is asked for."""
        if stage.spot:
            self.saw.append(stage.spot)

    def goes_on(self, stage: messages.Stage) -> str:
        """What was laid down for that state."""
        return self.says.get(stage.state, "")

    def refused(self, error: BadInput) -> None:
        """Keep the sentence."""
        self.saw.append(str(error))


class Played:
    """A conductor at work in a thread of its own."""

    def __init__(self, wire: Wire, person: Somebody) -> None:
        self.wire = wire
        self.person = person
        self.conductor = Conductor(cast(Recorder, wire), wire.ear, person)
        self.ended: queue.SimpleQueue[Course | BaseException] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def _run(self) -> None:
        try:
            self.ended.put(self.conductor.run("folder"))
        except (BadInput, Gone) as error:
            self.ended.put(error)

    def begin(self, acts: int = 1) -> None:
        """Start, and wait until the first act was asked for."""
        self._thread.start()
        self.did(acts)

    def did(self, acts: int) -> None:
        """Wait for so many acts."""
        until(lambda: len(self.wire.acts) >= acts, f"{acts} acts")

    def saw(self, count: int) -> None:
        """Wait until the person saw so many things."""
        until(lambda: len(self.person.saw) >= count, f"{count} things seen")

    def end(self) -> Course:
        """The course of a run that ended well."""
        found = self.ended.get(timeout=30.0)
        assert isinstance(found, Course), found
        return found

    def error(self) -> BaseException:
        """What ended it otherwise."""
        found = self.ended.get(timeout=30.0)
        assert isinstance(found, BaseException), found
        return found


@pytest.fixture
def played() -> Played:
    return Played(Wire(), Somebody())


def test_a_run_is_proven_armed_begun_and_climbed(played: Played) -> None:
    played.person.says = {"ready": "next"}
    played.begin()
    for index in (0, 1):
        played.wire.stage("setting", index)
        played.wire.stage("ready", index)
    played.wire.closes()
    course = played.end()
    assert [type(one).__name__ for one in played.wire.sent[:2]] == ["Prove", "Arm"]
    assert played.wire.acts == [("next", -1), ("next", 0), ("next", 1)]
    assert course.stages == ["stage 0", "stage 1"]


@pytest.mark.parametrize("what", ["Prove", "Arm"])
def test_what_is_refused_before_anything_is_on_is_raised(played: Played, what: str) -> None:
    played.wire.refuses[what] = ("mains relay", "is not proven", "prove it first")
    played.begin(acts=0)
    assert str(played.error()) == "mains relay: is not proven; prove it first."
    assert played.wire.acts == []


@pytest.mark.parametrize("place", ["next", "act"])
def test_an_offer_that_was_withdrawn_is_let_go(played: Played, place: str) -> None:
    played.person.says = {"ready": "next"}
    played.begin()
    played.wire.refuses["next"] = (place, "whatever it says", "wait")
    played.wire.stage("ready")
    played.did(2)
    played.wire.closes()
    assert played.end().closed
    assert played.person.saw == []


def test_a_refusal_for_any_other_reason_is_raised(played: Played) -> None:
    played.person.says = {"ready": "next"}
    played.begin()
    played.wire.refuses["next"] = ("bench supply", "was proven more than four hours ago", "prove it first")
    played.wire.stage("ready")
    assert str(played.error()).startswith("bench supply: was proven")


def test_what_the_person_asks_for_and_may_not_have_is_told_to_them(played: Played) -> None:
    played.begin()
    played.wire.refuses["back"] = ("back", "this is the lowest stage", "switch off instead")
    played.conductor.act("back", 0)
    played.saw(1)
    played.wire.closes()
    assert played.end().closed
    assert played.person.saw == ["back: this is the lowest stage; switch off instead."]


def test_a_spot_that_cannot_be_is_told_whatever_the_refusal_names(played: Played) -> None:
    """A refusal of what was told names the spot or the trace, never the act: the run goes on all the same."""
    played.begin()
    played.wire.refuses["Spot"] = ("base of Q5", "is no reading", "measure it again")
    played.wire.says(
        messages.Stage(t=0, state="dwelling", index=0, name="40 %", spot="base of Q5"),
    )
    played.saw(1)
    played.conductor.tell(messages.Spot(id=0, name="base of Q5", text="nan"))
    played.saw(2)
    played.wire.closes()
    assert played.end().closed
    assert played.person.saw == ["base of Q5", "base of Q5: is no reading; measure it again."]


def test_neither_an_act_nor_a_cut_waits_for_an_answer(played: Played) -> None:
    """Nobody listens at the other end: what is done returns all the same, in its order."""
    played.conductor.act("off", 2)
    played.conductor.answer(7, True)
    played.conductor.cut()
    assert played.wire.acts == [("off", 2), ("cut", -1)]


def test_a_dead_recorder_stands_in_nobodys_way(played: Played) -> None:
    played.wire.alive = False
    for what in (played.conductor.cut, played.conductor.leave):
        what()
    played.conductor.act("off")
    played.conductor.answer(7, False)


def test_a_dead_recorder_ends_the_run_whether_armed_or_not(played: Played) -> None:
    played.begin()
    played.wire.says(messages.Notice(place=WATCH, problem="sent a line nobody can read"))
    played.wire.says(messages.Prompt(prompt=1, kind="set_dial", text="Set it."))
    played.saw(1)
    played.wire.alive = False
    played.wire.says(messages.Notice(place=WATCH, problem="was killed", fix="start it again"))
    assert str(played.error()) == "benchlog's watch: was killed; start it again."


def test_prompts_reach_the_person_in_their_order_with_the_cut_that_made_them_void(played: Played) -> None:
    played.begin()
    for number in (1, 2):
        played.wire.says(messages.Prompt(prompt=number, kind="set_dial", text="Set it."))
    played.wire.says(messages.Event(t=0, kind="off", text="cut"))
    played.wire.says(messages.Prompt(prompt=3, kind="switch_off", text="Switch the unit off now."))
    played.wire.closes()
    assert played.end().closed
    assert played.person.saw == [1, 2, "never mind", 3]


def test_how_it_was_switched_off_is_kept(played: Played) -> None:
    played.begin()
    cut = messages.CutState(t=0, path="hand", outcome="unknown", text="", asked_ns=0, at_ns=1)
    closed = messages.Event(t=0, kind="closed", text="", data={"off": "unknown", "told_off": True})
    played.wire.says(cut, closed)
    played.wire.closes()
    course = played.end()
    assert (course.cuts, course.off, course.told_off) == ([cut], "unknown", True)


@pytest.mark.parametrize("state", ["moving", "dwelling", "held", "ready"])
def test_where_the_person_leaves_the_unit_goes_off_whatever_the_run_does(played: Played, state: str) -> None:
    played.begin()
    played.wire.stage(state)
    played.conductor.leave()
    played.did(2)
    played.wire.closes("ended by the operator")
    played.end()
    assert played.wire.acts == [("next", -1), ("off", -1)]


def test_where_that_is_refused_it_is_cut(played: Played) -> None:
    played.begin()
    played.wire.refuses["off"] = ("off", "the run is standing", "it is not on")
    played.conductor.leave()
    played.did(3)
    played.wire.closes("ended by the operator")
    played.end()
    assert played.wire.acts == [("next", -1), ("off", -1), ("cut", -1)]


def test_a_person_who_left_before_is_not_armed_for(played: Played) -> None:
    played.conductor.leave()
    played.begin(acts=0)
    assert "has ended" in str(played.error())
    assert [type(one).__name__ for one in played.wire.sent] == ["Prove"]


def test_a_person_who_leaves_while_it_is_armed_has_it_closed_and_never_on(played: Played) -> None:
    post = played.wire.post

    def leaves(request: messages.Request) -> int:
        if isinstance(request, messages.Arm):
            played.conductor.leave()
        return post(request)

    played.wire.post = leaves  # type: ignore[method-assign]
    played.begin()
    played.wire.closes("ended by the operator")
    played.end()
    assert played.wire.acts == [("close", -1)]


def test_silence_is_told() -> None:
    with pytest.raises(Gone, match="has said nothing for"):
        Ear(lambda _: None).wait(0.001)
