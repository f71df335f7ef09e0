"""A fit is good or bad with its reason: too little, not told, no better than a mean, another curve."""

import numpy as np
import pytest

from benchlog.electronics.fitting import NO_BETTER, NOT_RANDOM, NOT_TOLD, TOO_FEW, Floats, fit, random

X = np.linspace(0.0, 10.0, 60)


def line(x: Floats, a: float, b: float) -> Floats:
    return a + b * x


def noise(seed: int = 4) -> Floats:
    return np.random.default_rng(seed).normal(0.0, 0.1, len(X))


def test_a_good_one() -> None:
    found = fit(line, X, 2.0 + 0.5 * X + noise(), [(0.0, 0.0)])
    assert found.good
    assert found.values == pytest.approx([2.0, 0.5], abs=0.1)
    assert found.spread == pytest.approx(0.1, rel=0.3)


def test_no_more_readings_than_numbers_sought() -> None:
    assert fit(line, X[:2], X[:2], [(0.0, 1.0)]).why == TOO_FEW
    assert fit(line, X, np.full(len(X), np.nan), [(0.0, 1.0)]).why == TOO_FEW


def test_numbers_that_only_count_together_are_not_told() -> None:
    found = fit(lambda x, a, b: line(x, 0.0, a + b), X, 0.5 * X + noise(), [(0.1, 0.1)])
    assert (found.why, bool(np.all(np.isinf(found.errors)))) == (NOT_TOLD, True)


def test_a_curve_that_says_no_more_than_the_mean() -> None:
    assert fit(line, X, 2.0 + noise(), [(0.0, 0.0)]).why == NO_BETTER


def test_the_wrong_curve_leaves_an_order_behind() -> None:
    assert fit(line, X, 0.5 * X**2 + noise(), [(0.0, 0.0)]).why == NOT_RANDOM


def test_where_a_step_leaves_what_can_be_computed_it_goes_on() -> None:
    found = fit(lambda x, a, b: a * np.log(x + b), X, 3.0 * np.log(X + 2.0) + noise(), [(1.0, 20.0)])
    assert found.good, found.why
    assert found.values == pytest.approx([3.0, 2.0], rel=0.2)


def test_the_order_of_residuals() -> None:
    assert random(noise())
    assert not random(np.abs(noise()))
    assert not random(np.sin(X))
    # Within a digit every order is the digit's own.
    assert random(0.05 * np.sin(X), digit=0.1)
    assert random(np.sin(X[:8]))
