"""What the Power-up page says of where a trace is heading, and the page after a cut of what is still charged."""

import math
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.foretelling import AtOnce
from helpers.powerup_rig import PowerUpRig
from pytestqt.qtbot import QtBot

from benchlog.domain.trust import UNPROVEN
from benchlog.window.charges import charges_of
from benchlog.window.forecasts import Forecasts
from benchlog.window.foretold import STALE
from benchlog.window.kept_readings import MOST, KeptReadings
from benchlog.window.look import Look


class Foretelling(PowerUpRig):
    """The page with its forecasts."""

    def __init__(self, look: Look, folder: Path) -> None:
        super().__init__(look, folder)
        self.far = AtOnce()
        self.forecasts = Forecasts(self.work, self.far)
        self.work.forecasts = self.forecasts
        self.unfed = False

    def go_on(self, seconds: float, pace: float = 0.5, **traces: Callable[[float], float]) -> None:
        """Let traces read on, each as a function of the seconds since now, and have them foretold."""
        begun = self.t
        feed: dict[str, Callable[[float], float]] = {"mains": lambda _: 184.0, "lamp": lambda _: 18.0}
        if "plus" in traces and self.runner.view.is_live and not self.unfed:
            traces = feed | traces
        while self.t < begun + seconds:
            self.t += pace
            self.now += pace
            for name, value in traces.items():
                self.read(NAMES[name], round(value(self.t - begun), 5))
            self.forecasts._ask()
        self.page.refresh()

    def below(self, name: str) -> str:
        """What stands below the digits of a numeral."""
        shown = self.page.desk.numerals.shown
        return next("".join(one.face.below[:1]) for one in shown if one.face.face.name == NAMES[name])

    def lines(self) -> list[str]:
        return [line.text for line in self.page.desk.waits.lines]


NAMES = {
    "plus": "+B",
    "minus": "-B",
    "idle": "idle L",
    "offset": "offset L",
    "sink": "sink L",
    "mains": "mains",
    "lamp": "lamp",
}


@pytest.fixture
def rig(look: Look, qtbot: QtBot, tmp_path: Path) -> Iterator[Foretelling]:
    made = Foretelling(look, tmp_path)
    qtbot.addWidget(made.window)
    made.window.resize(1240, 750)
    made.window.show()
    made.climb(4, seconds=0.5)
    yield made
    made.close()


def rising(rest: float, swing: float, tau: float) -> Callable[[float], float]:
    return lambda t: rest - swing * math.exp(-t / tau) + 0.004 * math.sin(7.1 * t)


def test_a_rail_is_foretold_beside_its_numeral_and_at_length(rig: Foretelling) -> None:
    rig.go_on(90.0, plus=rising(35.8, 6.0, 30.0))
    assert rig.below("plus").startswith("heading for 35.80 V in 1"), rig.below("plus")
    said = next(line for line in rig.lines() if line.startswith("+B: heading for"))
    assert "9 in 10 between 35." in said
    # Time goes on with its readings, whenever it was foretold.
    rig.far.hangs = True
    rig.go_on(4.0, plus=lambda _: 35.6)
    assert rig.below("plus").startswith("heading for 35.80 V in 1")


def test_a_rail_that_wanders_with_the_mains_is_foretold_on_the_mean_of_them(rig: Foretelling) -> None:
    def wander(t: float) -> float:
        return 1.0 + 0.01 * math.sin(t / 25.0)

    settling = rising(35.8, 6.0, 30.0)
    rig.go_on(
        120.0,
        mains=lambda t: 184.0 * wander(t),
        lamp=lambda t: 18.0 * wander(t),
        plus=lambda t: settling(t) * wander(t),
    )
    value = rig.runner.view.foretold["+B"].answer.value
    assert value is not None
    assert value[1] < 35.8 * 1.003
    assert value[2] > 35.8 * 0.997
    assert value[2] - value[1] < 0.5
    # Without the mains nobody knows what it would read on steady ones.
    rig.event("trimmer", "trimmer touched")
    rig.read("mains", None, "late")
    rig.unfed = True
    rig.go_on(60.0, plus=settling)
    assert "+B" not in rig.runner.view.foretold


def test_what_nobody_can_foretell_says_so(rig: Foretelling) -> None:
    rig.go_on(20.0, offset=lambda t: 0.010 + 5e-5 * t)
    assert rig.below("offset") == "no forecast: too little seen"
    rig.go_on(120.0, offset=lambda t: 0.011 + 5e-5 * t)
    assert rig.below("offset") == "no forecast: not bending yet"
    assert "offset L: no forecast: not bending yet" in rig.lines()


def test_what_stands_still_says_nothing_below_its_digits(rig: Foretelling) -> None:
    rig.go_on(130.0, offset=lambda _: 0.0123)
    assert rig.below("offset") == ""
    assert any(line.startswith("offset L: steady for") for line in rig.lines())


def test_settled_by_the_rule_of_its_role_after_ten_minutes(rig: Foretelling) -> None:
    rig.go_on(500.0, pace=5.0, offset=lambda _: 0.0123)
    assert rig.below("offset") == ""
    rig.go_on(130.0, pace=5.0, offset=lambda _: 0.0123)
    assert rig.below("offset") == "settled"


def test_another_stage_or_a_touch_begins_anew(rig: Foretelling) -> None:
    rig.go_on(90.0, plus=rising(35.8, 6.0, 30.0))
    assert rig.runner.view.foretold
    rig.event("trimmer", "trimmer touched")
    rig.page.refresh()
    assert not rig.runner.view.foretold
    rig.go_on(90.0, plus=rising(35.8, 6.0, 30.0))
    rig.stage("moving", 5)
    assert not rig.runner.view.foretold
    rig.go_on(30.0, plus=rising(35.8, 6.0, 30.0))
    assert not rig.runner.view.foretold  # The source still moves.


def test_a_forecast_that_is_not_made_anew_lapses(rig: Foretelling) -> None:
    rig.go_on(90.0, plus=rising(35.8, 6.0, 30.0))
    rig.far.hangs = True
    rig.go_on(STALE + 2.0, plus=lambda _: 35.7)
    assert rig.below("plus") == ""
    assert not any(line.startswith("+B: heading") for line in rig.lines())


def test_a_doubted_reading_makes_no_forecast(rig: Foretelling) -> None:
    rig.event("trust", "offset L is unproven", trace="offset L", doubt=UNPROVEN)
    rig.go_on(130.0, offset=rising(0.02, 0.05, 40.0))
    assert "offset L" not in rig.runner.view.foretold
    rig.event("trust", "offset L is believed", trace="offset L", doubt="")
    rig.go_on(130.0, offset=rising(0.02, 0.05, 40.0))
    assert "offset L" in rig.runner.view.foretold


def test_after_a_cut_what_falls_along_one_curve_has_its_time(rig: Foretelling) -> None:
    rig.trip("lamp 152 V, above its limit of 80.5 V")
    rig.off("trip", "lamp 152 V")
    assert rig.runner.view.foretold == {}
    rig.event("discharge", "+B: falling", trace="+B", charge="falling", said="falling", volts=30.0)
    rig.go_on(3.0, plus=lambda t: 30.0 * math.exp(-t / 20.0))
    assert words(rig) in ("falling", "falling, no forecast: too little seen")
    rig.go_on(12.0, plus=lambda t: 25.8 * math.exp(-t / 20.0))
    assert words(rig).startswith("falling, 5 V in 2"), words(rig)
    assert "1 V in 5" in words(rig)
    assert words(rig).endswith(" s if it goes on")
    # A straight fall is an idle current's: what comes once that is asleep nobody has seen.
    rig.go_on(1.0, plus=lambda _: 14.0)
    rig.far.hangs = True
    rig.now += STALE + 1.0
    rig.read("+B", 10.0)
    assert words(rig) == "falling"


def words(rig: Foretelling) -> str:
    return next(one.words for one in charges_of(rig.runner.view, rig.now) if one.name == "+B")


# --- the readings it is made from ------------------------------------------------------------------


def test_of_many_readings_means_and_extremes_are_kept() -> None:
    kept = KeptReadings()
    for n in range(5 * MOST):
        kept.add(float(n), 10.0 + (n == 1234))
    assert len(kept) <= MOST
    assert max(kept.high) == 11.0
    assert (min(kept.low), min(kept.t)) == (10.0, pytest.approx(kept.t[0]))
    assert all(later > earlier for earlier, later in zip(kept.t, kept.t[1:], strict=False))
    kept.add(3.0, 99.0)
    assert max(kept.high) == 11.0


def test_the_last_digit_is_told_by_readings_that_are_alike() -> None:
    kept = KeptReadings()
    for n in range(40):
        kept.add(float(n), 12.3 if n % 4 else 12.4)
    assert kept.digit == pytest.approx(0.1)
    free = KeptReadings()
    for n in range(40):
        free.add(float(n), math.sin(n))
    assert free.digit == 0.0
