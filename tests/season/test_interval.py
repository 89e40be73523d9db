"""Ranges against published values, an integral, and a simulation."""

import math

import numpy as np
import pytest

from audit.season.interval import _T, share, student, trend, worth


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [
        (0, 10, 0.0, 0.2775),  # z^2 / (n + z^2)
        (10, 10, 0.7225, 1.0),
        (1, 1, 0.2065, 1.0),
        (15, 148, 0.0624, 0.1605),  # Newcombe 1998, Statistics in Medicine 17, 857-872, table I (from memory)
        (81, 263, 0.2553, 0.3662),
    ],
)
def test_wilson_is_as_published(count, of, low, high):
    found = share(count, of)
    assert (found.low, found.high) == pytest.approx((low, high), abs=6e-5)


def test_of_nothing_everything_is_possible():
    found = share(0, 0)
    assert (found.low, found.high) == (0.0, 1.0) and math.isnan(found.share)


@pytest.mark.parametrize(("p", "n"), [(0.02, 30), (0.1, 12), (0.3, 25), (0.5, 8)])
def test_the_range_holds_the_truth_about_as_often_as_it_says(p, n):
    draws = np.random.default_rng(1).binomial(n, p, 4000)
    ranges = {k: share(int(k), n) for k in np.unique(draws)}
    assert np.mean([ranges[k].low <= p <= ranges[k].high for k in draws]) > 0.91


def test_groups_of_alike_members_are_worth_their_number():
    assert worth(20, 5 * 4**2) == 5
    assert worth(10, 10) == 10
    assert worth(0, 0) == 0
    assert share(4, 20, 5).high > share(4, 20).high
    assert share(4, 20, 50) == share(4, 20)


def test_student_is_the_integral_of_its_density():
    for freedom, t in enumerate(_T, 1):
        x = np.linspace(-t, t, 200_001)
        scale = math.gamma((freedom + 1) / 2) / math.gamma(freedom / 2) / math.sqrt(freedom * math.pi)
        inside = np.trapezoid(scale * (1 + x**2 / freedom) ** (-(freedom + 1) / 2), x)
        assert inside == pytest.approx(0.95, abs=1e-4), freedom
    assert student(500) == _T[-1]


def test_a_line_is_found_with_its_slope():
    found = trend([2020, 2021, 2022, 2023], [3.0, 3.1, 3.2, 3.3], [0.1, 0.1, 0.1, 0.1])
    assert found.slope == pytest.approx(0.1)
    assert found.mean == pytest.approx(3.15)
    assert found.slope_err == pytest.approx(0.1 / math.sqrt(5), rel=1e-6)


def test_scatter_beyond_the_ranges_widens_them():
    quiet = trend([2020, 2021, 2022, 2023], [3.0, 3.1, 3.2, 3.3], [0.1] * 4)
    loud = trend([2020, 2021, 2022, 2023], [3.0, 4.1, 2.2, 3.3], [0.1] * 4)
    assert loud.slope_err > 5 * quiet.slope_err


def test_too_few_or_too_near_is_no_trend():
    assert trend([2020, 2022], [3, 3], [0.1, 0.1]) is None
    assert trend([2020, 2020.1, 2020.2], [3, 3, 3], [0.1] * 3) is None


def test_what_is_steady_seems_to_drift_about_as_rarely_as_is_said():
    random = np.random.default_rng(2)
    years, errs = np.arange(6.0), np.full(6, 0.2)
    found = [trend(years, 3 + random.normal(0, 0.2 / 1.96, 6), errs) for _ in range(2000)]
    assert np.mean([abs(one.slope) > one.slope_err for one in found]) < 0.06
