"""Mean, deviation and slope between two moments against the certified values of the statistical reference sets."""

from pathlib import Path

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


def _kept(name: str) -> list[float]:
    """The values of a set that is too long to stand here."""
    lines = Path(__file__).with_name(f"nist_{name.lower()}.txt").read_text("utf-8").splitlines()
    return [float(word) for line in lines if not line.startswith("#") for word in line.split()]


def _pi(count: int) -> list[float]:
    """The first digits of pi, after Machin: 16 arctan 1/5 - 4 arctan 1/239, in whole numbers.

    As the set has them: its 957th is a 3 where that of pi is an 8, and its certified values are those of the 3.
    """
    one: int = 10 ** (count + 10)

    def arctan(inverse: int) -> int:
        term = total = one // inverse
        n = 1
        while term:
            term //= -inverse * inverse
            n += 2
            total += term // n
        return total

    # In two halves: Python writes no longer number at once.
    half = count // 2
    head, tail = divmod(4 * (4 * arctan(5) - arctan(239)), 10 ** (half + 10))
    digits = [float(digit) for digit in f"{head}{tail:0{half + 10}}"[:count]]
    assert digits[956] == 8.0
    digits[956] = 3.0
    return digits


@pytest.mark.parametrize(
    ("name", "count", "mean", "spread", "exact"),
    [
        row(UNIVARIATE, "Lew", 200, -177.435, 277.332168044316, 1e-14),
        row(UNIVARIATE, "Lottery", 218, 518.958715596330, 291.699727470969, 1e-14),
        row(UNIVARIATE, "Mavro", 50, 2.001856, 0.000429123454003053, 1e-10),
        row(UNIVARIATE, "Michelson", 100, 299.8524, 0.0790105478190518, 1e-12),
        row(UNIVARIATE, "PiDigits", 5000, 4.5348, 2.86733906028871, 1e-14),
        row(UNIVARIATE, "NumAcc1", 3, 10000002.0, 1.0, 1e-12),
        row(UNIVARIATE, "NumAcc2", 1001, 1.2, 0.1, 1e-12),
        row(UNIVARIATE, "NumAcc3", 1001, 1000000.2, 0.1, 1e-9),
        row(UNIVARIATE, "NumAcc4", 1001, 10000000.2, 0.1, 1e-8),
    ],
)
def test_mean_and_deviation(name: str, count: int, mean: float, spread: float, exact: float) -> None:
    values = {
        "Mavro": [2.0 + float(digits) * 1e-5 for digits in MAVRO.split()],
        "NumAcc1": [10000001.0, 10000003.0, 10000002.0],
        "NumAcc2": _three(1.2, 1.1, 1.3),
        "NumAcc3": _three(1000000.2, 1000000.1, 1000000.3),
        "NumAcc4": _three(10000000.2, 10000000.1, 10000000.3),
    }.get(name) or (_pi(count) if name == "PiDigits" else _kept(name))
    t, value = np.arange(len(values)), np.array(values)
    # As from a file that is read in slices, the last one short.
    found = between((t[at : at + 64], value[at : at + 64]) for at in range(0, count, 64))
    assert found.count == len(values) == count
    assert found.mean == pytest.approx(mean, rel=1e-14)
    assert found.spread == pytest.approx(spread, rel=exact)
