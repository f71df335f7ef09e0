"""Curves and a straight line against the certified values of the statistical reference sets, and what must be bad."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from helpers.outside import Source, row

from benchlog.electronics.fitting import NO_BETTER, NOT_TOLD, fit

Floats = npt.NDArray[np.float64]
NONLINEAR = Source("NIST StRD, nonlinear least squares regression, certified values")
LINEAR = Source("NIST StRD, Norris, as scipy.stats carries it in tests/data/nist_linregress/Norris.dat")


def _numbers(text: str) -> Floats:
    return np.array([float(one) for one in text.split()])


def _saturating(x: Floats, b1: float, b2: float) -> Floats:
    return b1 * (1.0 - np.exp(-b2 * x))


def _three_decays(x: Floats, *b: float) -> Floats:
    return b[0] * np.exp(-b[1] * x) + b[2] * np.exp(-b[3] * x) + b[4] * np.exp(-b[5] * x)


@dataclass(frozen=True)
class Set:
    """A reference set: its model and readings, two starts, the certified numbers with their errors, and the RSS."""

    model: Callable[..., Floats]
    x: Floats
    y: Floats
    starts: tuple[tuple[float, ...], tuple[float, ...]]
    values: tuple[float, ...]
    errors: tuple[float, ...]
    rss: float


SETS = {
    "DanWood": Set(
        lambda x, b1, b2: b1 * x**b2,
        _numbers("1.309 1.471 1.490 1.565 1.611 1.680"),
        _numbers("2.138 3.421 3.597 4.340 4.882 5.660"),
        ((1.0, 5.0), (0.7, 4.0)),
        (7.6886226176e-01, 3.8604055871),
        (1.8281973860e-02, 5.1726610913e-02),
        4.3173084083e-03,
    ),
    "Misra1a": Set(
        _saturating,
        _numbers("77.6 114.9 141.1 190.8 239.9 289.0 332.8 378.4 434.8 477.3 536.8 593.1 689.1 760.0"),
        _numbers("10.07 14.73 17.94 23.93 29.61 35.18 40.02 44.82 50.76 55.05 61.01 66.40 75.47 81.78"),
        ((500.0, 1e-4), (250.0, 5e-4)),
        (2.3894212918e02, 5.5015643181e-04),
        (2.7070075241, 7.2668688436e-06),
        1.2455138894e-01,
    ),
    "BoxBOD": Set(
        _saturating,
        _numbers("1 2 3 5 7 10"),
        _numbers("109 149 149 191 213 224"),
        ((1.0, 1.0), (100.0, 0.75)),
        (2.1380940889e02, 5.4723748542e-01),
        (1.2354515176e01, 1.0455993237e-01),
        1.1680088766e03,
    ),
    "MGH09": Set(
        lambda x, b1, b2, b3, b4: b1 * (x**2 + b2 * x) / (x**2 + b3 * x + b4),
        _numbers("4 2 1 .5 .25 .167 .125 .1 .0833 .0714 .0625"),
        _numbers(".1957 .1947 .1735 .16 .0844 .0627 .0456 .0342 .0323 .0235 .0246"),
        ((25.0, 39.0, 41.5, 39.0), (0.25, 0.39, 0.415, 0.39)),
        (0.19280693458, 0.19128232873, 0.12305650693, 0.13606233068),
        (0.011435312227, 0.19633220911, 0.080842031232, 0.090025542308),
        3.0750560385e-04,
    ),
    "Lanczos3": Set(
        _three_decays,
        0.05 * np.arange(24.0),
        _numbers(
            "2.5134 2.0443 1.6684 1.3664 1.1232 .9269 .7679 .6389 .5338 .4479 .3776 .3197"
            " .2720 .2325 .1997 .1723 .1493 .1301 .1138 .1000 .0883 .0783 .0698 .0624"
        ),
        ((1.2, 0.3, 5.6, 5.5, 6.5, 7.6), (0.5, 0.7, 3.6, 4.2, 4.0, 6.3)),
        (0.086816414977, 0.95498101505, 0.84400777463, 2.9515951832, 1.5825685901, 4.9863565084),
        (0.017197908859, 0.097041624475, 0.041488663282, 0.10766312506, 0.058371576281, 0.034436403035),
        1.6117193594e-08,
    ),
}


@pytest.mark.parametrize(
    ("name", "start", "exact"),
    [
        row(NONLINEAR, "DanWood", 0, 1e-6),
        row(NONLINEAR, "DanWood", 1, 1e-6),
        row(NONLINEAR, "Misra1a", 0, 1e-6),
        row(NONLINEAR, "Misra1a", 1, 1e-6),
        row(NONLINEAR, "BoxBOD", 1, 1e-6),
        row(NONLINEAR, "MGH09", 0, 1e-5),
        row(NONLINEAR, "MGH09", 1, 1e-5),
        row(NONLINEAR, "Lanczos3", 0, 1e-3),
        row(NONLINEAR, "Lanczos3", 1, 1e-3),
    ],
)
def test_a_curve_has_the_certified_numbers_errors_and_rest(name: str, start: int, exact: float) -> None:
    one = SETS[name]
    found = fit(one.model, one.x, one.y, [one.starts[start]])
    assert found.values == pytest.approx(one.values, rel=exact)
    assert found.errors == pytest.approx(one.errors, rel=10 * exact)
    assert found.rss == pytest.approx(one.rss, rel=exact)
    assert found.good, found.why


@pytest.mark.parametrize("start", [row(NONLINEAR, 0)])
def test_a_curve_that_converged_wrongly_is_said_to_be_bad(start: int) -> None:
    box = SETS["BoxBOD"]
    found = fit(box.model, box.x, box.y, [box.starts[start]])
    assert not found.good
    assert found.why in (NOT_TOLD, NO_BETTER)
    assert found.rss > 8.0 * box.rss
    # With a second start beside it the right one is found and the wrong one is not shown.
    both = fit(box.model, box.x, box.y, box.starts)
    assert both.good
    assert both.values == pytest.approx(box.values, rel=1e-6)


def _norris() -> Any:
    """The set of the scipy wheel; a wheel without its tests has none."""
    try:
        file = resources.files("scipy.stats") / "tests" / "data" / "nist_linregress" / "Norris.dat"
        return file.read_text("utf-8") if file.is_file() else None
    except (ModuleNotFoundError, OSError):
        return None


@pytest.mark.parametrize(
    ("values", "errors", "rss"),
    [
        row(
            LINEAR,
            (-0.262323073774029, 1.00211681802045),
            (0.232818234301152, 0.429796848199937e-03),
            26.6173985294224,
        )
    ],
)
def test_a_straight_line(values: tuple[float, ...], errors: tuple[float, ...], rss: float) -> None:
    text = _norris()
    if text is None:
        pytest.skip("this scipy came without its own tests' data")
    # What is read stands at the end of the file, y before x.
    pairs = [line.split() for line in text.splitlines()[60:] if len(line.split()) == 2]
    y, x = np.array([[float(one) for one in pair] for pair in pairs]).T
    assert len(x) == 36
    found = fit(lambda x, b0, b1: b0 + b1 * x, x, y, [(0.0, 1.0)])
    assert found.values == pytest.approx(values, rel=1e-7)
    assert found.errors == pytest.approx(errors, rel=1e-7)
    assert found.rss == pytest.approx(rss, rel=1e-10)
    assert found.good, found.why
