"""What is remembered of a trace for a limit on its rise: by parts of the window, at every pace of a meter alike."""

import pytest

from benchlog.domain.rise import PARTS, Rise
from benchlog.domain.trace import SECOND

WINDOW, AFTER = 60.0, 30.0


class Fed:
    """A rise that is fed by one meter, whose source has stood still since time 0."""

    def __init__(self, pace: float) -> None:
        self.rise = Rise(WINDOW, AFTER)
        self.pace = pace
        self.still = 0
        self.count = 0

    @property
    def t(self) -> int:
        """Plan time of the newest reading."""
        return round((self.count - 1) / self.pace * SECOND)

    def read(self, seconds: float, value: float) -> tuple[float, float] | None:
        """Read that value for so long; what is found at the end."""
        for _ in range(round(seconds * self.pace)):
            self.count += 1
            self.rise.take(self.t, value, self.still)
        return self.rise.found(self.t)


@pytest.mark.parametrize("pace", [0.5, 3.0, 4.0, 60.0])
class TestAtEveryPace:
    """Two seconds a reading or sixty readings a second: the same is found."""

    def test_from_the_lowest_of_the_window_to_now(self, pace: float) -> None:
        fed = Fed(pace)
        fed.read(50.0, 22.0)
        assert fed.read(20.0, 28.0) == (22.0, 28.0)

    def test_what_left_the_window_was_long_ago(self, pace: float) -> None:
        fed = Fed(pace)
        fed.read(50.0, 22.0)
        # The edge lies at that of a part, and a middle counts by the first of its three readings.
        assert fed.read(WINDOW + WINDOW / PARTS + 3.0 / pace, 28.0) == (28.0, 28.0)

    def test_a_dip_is_no_start(self, pace: float) -> None:
        fed = Fed(pace)
        fed.read(50.0, 22.0)
        fed.read(8.0, 17.0)
        assert fed.read(8.0, 22.0) == (22.0, 22.0)

    def test_what_stood_before_a_dip_is_known_for_as_long_again(self, pace: float) -> None:
        fed = Fed(pace)
        fed.read(40.0, 22.0)
        fed.read(40.0, 17.0)
        assert fed.read(50.0, 22.0) == (22.0, 22.0)

    def test_a_source_that_moved_begins_anew(self, pace: float) -> None:
        fed = Fed(pace)
        fed.read(50.0, 22.0)
        fed.still = fed.t
        assert fed.read(10.0, 28.0) is None
        assert fed.read(AFTER, 28.0) == (28.0, 28.0)

    def test_forgotten_is_forgotten(self, pace: float) -> None:
        fed = Fed(pace)
        fed.read(50.0, 22.0)
        fed.rise.forget()
        assert fed.rise.found(fed.t) is None
        assert fed.read(15.0, 28.0) == (28.0, 28.0)


def test_a_step_within_one_part_is_found_there() -> None:
    # All within one part: its highest came after its lowest, and is no start of the rise.
    fed = Fed(1000.0)
    fed.still = -round(AFTER * SECOND)
    fed.read(0.2, 20.0)
    assert fed.read(0.2, 60.0) == (20.0, 60.0)


def test_as_much_is_remembered_of_a_quick_meter_as_of_a_slow_one() -> None:
    # Longer than all the readings that a trace keeps of a meter at this pace.
    fed = Fed(1000.0)
    fed.read(40.0, 22.0)
    assert fed.read(20.0, 28.0) == (22.0, 28.0)
