"""A part is under the probes: its reading settles, is told, and is told again until somebody has kept it."""

import pytest
from helpers.stand_ins import volts
from helpers.until import until

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.settle import LONGEST
from benchlog.errors import BadInput
from benchlog.recorder import taking
from benchlog.recorder.clock import SECOND, Clock, wire_now
from benchlog.recorder.messages import Take, Taken
from benchlog.recorder.taking import Takings

PARTS = "parts meter"


class Round:
    """Takings with their clock; plan time stands at `origin` seconds and goes on."""

    def __init__(self, rate: float = 1.0) -> None:
        self.clock = Clock(rate)
        self.sent: list[Taken] = []
        self.heard: list[Taken] = []
        self.takings = Takings(self.clock, self.sent.append, self.heard.append)

    def begin(self, designator: str = "R101", function: str = "ohms", job: str = PARTS) -> Function:
        request = Take(
            id=1,
            reading=f"id of {designator}",
            job=job,
            designator=designator,
            function=function,
            part="p",
            measure="be",
        )
        return self.takings.begin(request)

    def read(self, *values: float | None, job: str = PARTS, **more: object) -> list[bool]:
        """Offer readings of ohms, of this moment."""
        return [
            self.takings.reading(job, volts(value, **{"function": Function.OHMS, **more}))  # type: ignore[arg-type]
            for value in values
        ]


@pytest.fixture
def round_() -> Round:
    return Round()


def test_a_reading_that_comes_to_rest_is_taken_once_and_whole(round_: Round) -> None:
    assert round_.begin() is Function.OHMS
    assert round_.read(1000.0, 4681.0, 4680.0, 4680.0, resolution=1.0) == [False, False, False, True]
    (taken,) = round_.sent
    assert round_.heard == [taken]
    assert (taken.reading, taken.designator, taken.part, taken.job) == ("id of R101", "R101", "p", PARTS)
    assert taken.measure == "be"
    assert (taken.function, taken.outcome, taken.value, taken.unit) == ("ohms", "ok", 4680.0, "ohm")
    assert (taken.raw, taken.resolution, taken.settled) == ("4680.0", 1.0, True)
    assert taken.utc.endswith("Z")
    # What the meter reads from now on belongs to no part.
    assert round_.read(4680.0) == [False]


def test_an_open_part_is_taken_as_overload(round_: Round) -> None:
    round_.begin()
    assert round_.read(*[None] * 4, negative=True)[-1]
    (taken,) = round_.sent
    assert (taken.value, taken.outcome, taken.negative) == (None, Outcome.OVERLOAD, True)


def test_what_never_comes_to_rest_is_taken_as_it_stands_and_marked() -> None:
    round_ = Round(rate=1000.0)
    round_.begin()
    ends = []
    value = 1000.0

    def creep() -> bool:
        nonlocal value
        value *= 1.02
        ends.extend(round_.read(value))
        return ends[-1]

    until(creep, "the end of the wait")
    (taken,) = round_.sent
    assert not taken.settled
    assert taken.value == value


def test_readings_of_another_meter_or_function_do_not_count(round_: Round) -> None:
    round_.begin()
    assert not any(round_.read(*[1.0] * 9, job="lamp"))
    assert not any(round_.read(*[1.0] * 9, function=Function.VOLTS_DC))
    assert round_.sent == []


def test_a_function_no_meter_has_is_refused_with_those_there_are(round_: Round) -> None:
    with pytest.raises(BadInput, match="'ohm' is no function of a meter; use one of volts_dc"):
        round_.begin(function="ohm")
    assert round_.begin() is Function.OHMS


def test_a_meter_takes_one_part_at_a_time_and_another_meter_another(round_: Round) -> None:
    round_.begin("R101")
    with pytest.raises(BadInput, match="parts meter is still taking R101"):
        round_.begin("R201")
    round_.begin("C5", job="capacitance meter")
    round_.takings.give_up(PARTS)
    round_.takings.give_up(PARTS)
    round_.begin("R201")
    round_.read(*[4700.0] * 9)
    assert [taken.designator for taken in round_.sent] == ["R201"]


def test_it_is_told_again_until_somebody_has_kept_it(round_: Round, monkeypatch: pytest.MonkeyPatch) -> None:
    round_.begin()
    round_.read(*[4700.0] * 4)
    round_.takings.repeat()
    assert len(round_.sent) == 1  # Told a moment ago.
    monkeypatch.setattr(taking, "REPEAT_SECONDS", 0.0)
    round_.takings.repeat()
    round_.takings.repeat()
    assert round_.sent == [round_.sent[0]] * 3
    assert len(round_.heard) == 1
    round_.takings.kept("of another")
    round_.takings.repeat()
    assert len(round_.sent) == 4
    round_.takings.kept("id of R101")
    round_.takings.kept("id of R101")
    round_.takings.repeat()
    assert len(round_.sent) == 4


def test_a_meter_that_says_nothing_is_given_up_after_a_while() -> None:
    round_ = Round(rate=1000.0)
    round_.begin("R101")
    round_.begin("C5", job="capacitance meter")
    begun = round_.takings._takings["capacitance meter"]
    begun.settler.began += 3600 * SECOND  # Its part came under the probes much later.
    assert until(round_.takings.overdue, "the meter that says nothing") == [PARTS]
    assert round_.takings.overdue() == []
    round_.begin("R102")


def test_the_wait_for_a_reading_is_one_of_plan_time(round_: Round) -> None:
    round_.begin()
    assert round_.takings.overdue() == []
    began = round_.takings._takings[PARTS].settler.began
    late = Reading(Outcome.OK, 1.0, Function.OHMS, wire_now() + int(2 * LONGEST * SECOND), "1.0")
    assert round_.clock.of(late.at) - began > LONGEST * SECOND
    round_.read(1.0)
    assert round_.takings.reading(PARTS, late)
    assert not round_.sent[0].settled
