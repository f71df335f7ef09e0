"""The wall socket wanders as little as mains do."""

import random
import statistics

from benchlog.simbench.mains import Mains


def test_it_stays_near_its_nominal_and_does_move() -> None:
    mains = Mains(230.0, random.Random(3), 0.012)
    volts = []
    for _ in range(7200):
        mains.step(0.5)
        volts.append(mains.volts)
    assert 230.0 * 0.97 < min(volts) < max(volts) < 230.0 * 1.03
    assert 0.003 < statistics.pstdev(volts) / 230.0 < 0.012


def test_it_never_looks_like_a_hand_on_the_dial() -> None:
    mains = Mains(230.0, random.Random(4), 0.012)
    before, steps = 230.0, []
    for _ in range(20000):
        mains.step(1.0 / 3.0)
        steps.append(abs(mains.volts - before) / 230.0)
        before = mains.volts
    assert statistics.fmean(steps) < 0.001


def test_without_wander_it_stands_still() -> None:
    mains = Mains(230.0, random.Random(5), 0.0)
    mains.step(100.0)
    assert mains.volts == 230.0
