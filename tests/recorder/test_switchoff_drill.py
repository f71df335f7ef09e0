"""The drill of a hand: the person switches off for practice, and the lamp must be seen to go dark."""

from collections.abc import Iterator

import pytest
from helpers.off_switches import Desk, hand

from benchlog.domain.reading import Outcome
from benchlog.recorder.clock import SECOND
from benchlog.recorder.switchoff import DRILL_SECONDS


@pytest.fixture
def desk() -> Iterator[Desk]:
    made = Desk()
    yield made
    made.close()


class Drill:
    """A unit that is on, with a lamp to be seen; time goes by readings, a tenth of a second each."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.off = desk.off(hand())
        self.t = 0
        self.asked = False
        self.give(60.0, seconds=4.0)

    def give(self, lamp: float, seconds: float) -> tuple[bool, float] | None:
        """Let the lamp's meter read; how the drill ended, if it did."""
        for _ in range(round(seconds * 10)):
            self.t += SECOND // 10
            with self.desk.lock:
                self.desk.guard.reading("lamp", lamp, Outcome.OK, self.t, self.t)
                self.off.reading("lamp", lamp, self.t)
                if self.asked:
                    self.off.drill(self.t)
                ended = self.off.look_at_drill(self.t)
            if ended is not None:
                return ended
        return None

    def begin(self) -> None:
        """Ask for off, for practice."""
        self.asked = True
        with self.desk.lock:
            self.off.drill(self.t)


@pytest.fixture
def drill(desk: Desk) -> Drill:
    return Drill(desk)


def test_a_drill_ends_when_the_lamp_is_seen_dark_and_the_person_says_so(drill: Drill) -> None:
    drill.begin()
    assert drill.give(60.0, seconds=1.0) is None
    drill.off.hand_done(drill.t)
    ended = drill.give(0.5, seconds=5.0)
    assert ended is not None
    seen, took = ended
    assert seen
    assert 1.0 < took < 3.0
    # Once.
    drill.asked = False
    assert drill.give(0.5, seconds=1.0) is None


def test_a_person_who_switches_off_and_says_so_later_has_done_the_drill(drill: Drill) -> None:
    drill.begin()
    assert drill.give(60.0, seconds=1.0) is None
    assert drill.give(0.5, seconds=DRILL_SECONDS) is None
    assert drill.give(60.0, seconds=1.0) is None  # On again, before a word was said.
    drill.off.hand_done(drill.t)
    ended = drill.give(60.0, seconds=0.1)
    assert ended is not None
    seen, took = ended
    assert seen
    assert took < 3.0


def test_a_drill_without_the_persons_word_goes_on(drill: Drill) -> None:
    drill.begin()
    assert drill.give(0.5, seconds=3 * DRILL_SECONDS) is None


def test_a_drill_after_which_the_lamp_still_glows_has_failed(drill: Drill) -> None:
    drill.begin()
    drill.off.hand_done(drill.t)
    assert drill.give(60.0, seconds=DRILL_SECONDS - 1.0) is None
    ended = drill.give(60.0, seconds=2.0)
    assert ended is not None
    assert not ended[0]


def test_a_cut_makes_an_end_of_the_drill(drill: Drill) -> None:
    drill.begin()
    drill.off.hand_done(drill.t)
    with drill.desk.lock:
        drill.off.begin(drill.t)
    drill.asked = False
    assert drill.give(0.5, seconds=2 * DRILL_SECONDS) is None
