"""A reading that hands-free must not take any more, since a run began: its part is to be had again afterwards."""

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.errors import BadInput
from benchlog.recorder.clock import SECOND, Clock
from benchlog.recorder.hands import HandsFreeTaking
from benchlog.recorder.messages import Ahead, Outgoing, Part, Taken


class Rig:
    """A meter in the hands, its readings a tenth of a second apart; `run_is_open` refuses ohms."""

    def __init__(self) -> None:
        self.told: list[Taken] = []
        self.sent: list[Outgoing] = []
        self.run_is_open = False
        self._at = 0
        self.hands = HandsFreeTaking(
            Clock(origin=0),
            self.told.append,
            self.sent.append,
            lambda _job, _function, ended: ended(""),
            lambda _job: None,
            self._check,
        )

    def _check(self, _job: str, function: Function) -> None:
        if self.run_is_open:
            raise BadInput("take", f"{function} is not measured while a run is open", "close it first")

    def touch(self) -> None:
        for value in (None, None, None, None, None, 4700.0, 4700.0, 4700.0, 4700.0, 4700.0):
            self._at += SECOND // 10
            outcome = Outcome.OVERLOAD if value is None else Outcome.OK
            self.hands.reading("parts meter", Reading(outcome, value, Function.OHMS, self._at, ""))


def test_a_part_whose_reading_was_refused_can_be_taken_once_the_run_is_over() -> None:
    rig = Rig()
    ahead = Ahead(
        id=1,
        job="parts meter",
        parts=[Part(reading="r-1", designator="R110", function="ohms", near=[(4000.0, 5000.0)])],
    )
    rig.hands.ahead(ahead)
    rig.run_is_open = True
    rig.touch()
    assert rig.told == []
    assert rig.hands.job == ""
    rig.run_is_open = False
    rig.hands.ahead(ahead)
    rig.touch()
    assert [one.reading for one in rig.told] == ["r-1"]
