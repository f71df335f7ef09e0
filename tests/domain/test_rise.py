"""What is remembered of a trace for a limit on its rise: by parts of the window, at every pace of a meter alike."""

import random
from statistics import median

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


def exactly(
    rows: list[tuple[float, float]], window: float, before: float, t: float
) -> tuple[float, float] | None:
    """What a rise is, from every reading: from the lowest of `window`, but no less than stood `before` at most."""
    middles = [
        (rows[at][0], median(value for _, value in rows[at : at + 3]))
        for at in range(len(rows) - 2)
        if rows[at][0] >= AFTER / 2
    ]
    inside = [row for row in middles if row[0] >= max(t - window, AFTER)]
    if len(inside) < 4:
        return None
    lowest = min(inside, key=lambda row: row[1])
    earlier = [value for at, value in middles if t - before <= at <= lowest[0]]
    return max(earlier), middles[-1][1]


@pytest.mark.parametrize("seed", range(12))
def test_it_finds_what_every_reading_would_tell_but_for_a_part_at_the_edge(seed: int) -> None:
    # Never less than the window tells by every reading, never more than one that is longer by a part.
    dice = random.Random(seed)
    part, rows, value, t = WINDOW / PARTS, [], 22.0, 0.0
    rise = Rise(WINDOW, AFTER)
    compared = 0
    while t < 240.0:
        t += dice.choice((0.1, 0.33, 0.5, 2.0))
        value = max(value * dice.uniform(0.95, 1.053), 0.5)
        shown = value * dice.choice((1.0, 1.0, 1.0, 0.6))
        rows.append((t, shown))
        rise.take(round(t * SECOND), shown, 0)
        found = rise.found(round(t * SECOND))
        least = exactly(rows, WINDOW, 2 * WINDOW + part, t)
        most = exactly(rows, WINDOW + part, 2 * WINDOW, t)
        if found is None or least is None or most is None:
            assert least is None  # what every reading tells is not missed
            continue
        compared += 1
        assert found[1] == least[1]
        assert most[0] <= found[0] <= least[0]
    assert compared > 50
