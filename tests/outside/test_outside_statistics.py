"""Mean, deviation and slope between two moments against the certified values of the statistical reference sets."""

import numpy as np
import pytest
from helpers.outside import Source, row

from benchlog.domain.between import between

UNIVARIATE = Source(
    "NIST StRD, univariate summary statistics, certified values as in GSL, statistics/test_nist.c"
)
MAVRO = (
    "180 170 180 190 180 170 150 140 150 150 170 180 180 190 190 210 200 160 140 130 130 150 150 160 150 140 130 140"
    " 150 140 150 160 150 160 190 200 200 210 220 230 240 250 270 260 260 260 270 260 250 240"
)


def _three(middle: float, low: float, high: float) -> list[float]:
    return [middle, *[low, high] * 500]


@pytest.mark.parametrize(
    ("name", "mean", "spread", "exact"),
    [
        row(UNIVARIATE, "Mavro", 2.001856, 0.000429123454003053, 1e-10),
        row(UNIVARIATE, "NumAcc1", 10000002.0, 1.0, 1e-12),
        row(UNIVARIATE, "NumAcc2", 1.2, 0.1, 1e-12),
        row(UNIVARIATE, "NumAcc3", 1000000.2, 0.1, 1e-9),
        row(UNIVARIATE, "NumAcc4", 10000000.2, 0.1, 1e-8),
    ],
)
def test_mean_and_deviation(name: str, mean: float, spread: float, exact: float) -> None:
    values = {
        "Mavro": [2.0 + float(digits) * 1e-5 for digits in MAVRO.split()],
        "NumAcc1": [10000001.0, 10000003.0, 10000002.0],
        "NumAcc2": _three(1.2, 1.1, 1.3),
        "NumAcc3": _three(1000000.2, 1000000.1, 1000000.3),
        "NumAcc4": _three(10000000.2, 10000000.1, 10000000.3),
    }[name]
    found = between(np.arange(float(len(values))), np.array(values), 0.0, float(len(values)))
    assert found.count == len(values)
    assert found.mean == pytest.approx(mean, rel=1e-14)
    assert found.spread == pytest.approx(spread, rel=exact)
