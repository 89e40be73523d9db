from __future__ import annotations

import math

import numpy as np
import pytest

from audit.optics.density import stops_from_density
from audit.optics.exposure import (
    aperture_value,
    compensated_time_s,
    ev100,
    exposure_time_from_time_value,
    f_number_from_aperture_value,
    snap_exposure_time,
    snap_f_number,
    speed_value,
    time_value,
)

# APEX tables: definitions seen in Kerr's paper on APEX and copies of EXIF 2.2 annex C; values from memory.
AV = {"1": 0, "1.4": 1, "2": 2, "2.8": 3, "4": 4, "5.6": 5, "8": 6, "11": 7, "16": 8, "22": 9, "32": 10}
TV = {"30": -5, "15": -4, "8": -3, "4": -2, "2": -1, "1": 0, "1/2": 1, "1/4": 2, "1/8": 3, "1/15": 4}
TV |= {"1/30": 5, "1/60": 6, "1/125": 7, "1/250": 8, "1/500": 9, "1/1000": 10}
SV = {100: 5, 200: 6, 400: 7}


def number(text: str) -> float:
    top, _, bottom = text.partition("/")
    return float(top) / float(bottom or 1)


@pytest.mark.parametrize(("name", "av"), AV.items())
def test_nominal_f_numbers_are_whole_apex_steps_once_snapped(name: str, av: int) -> None:
    exact, basis = snap_f_number(number(name))
    assert basis == "third"
    assert aperture_value(exact) == pytest.approx(av, abs=1e-12)
    assert f_number_from_aperture_value(av) == pytest.approx(exact)


@pytest.mark.parametrize(("name", "tv"), TV.items())
def test_nominal_times_are_whole_apex_steps_once_snapped(name: str, tv: int) -> None:
    exact, basis = snap_exposure_time(number(name))
    assert basis == "third"
    assert time_value(exact) == pytest.approx(tv, abs=1e-12)
    assert exposure_time_from_time_value(tv) == pytest.approx(exact)


@pytest.mark.parametrize(("iso", "sv"), SV.items())
def test_speed_value(iso: int, sv: int) -> None:
    assert speed_value(iso) == pytest.approx(sv)


@pytest.mark.parametrize(
    ("written", "exact", "basis"),
    [
        (15, 16, "third"),
        (30, 32, "third"),
        (20, 2 ** (13 / 3), "third"),
        (0.3, 2 ** (-5 / 3), "third"),
        (1 / 3, 2 ** (-5 / 3), "third"),
        (10 / 13, 2 ** (-1 / 3), "third"),
        (1 / 6, 2 ** (-8 / 3), "third"),
        (1 / 320, 2 ** (-25 / 3), "third"),
        (1 / 8000, 2**-13, "third"),
        (1 / 64, 2**-6, "third"),
        (1 / 45, 2**-5.5, "half"),
        (1 / 90, 2**-6.5, "half"),
        (1.5, 2**0.5, "half"),
        (0.7, 2**-0.5, "half"),
        (1 / 493, 1 / 493, "written"),
        (1 / 1493, 1 / 1493, "written"),
        (1 / 121, 1 / 121, "written"),
        (31, 31, "written"),
        (60, 60, "written"),
        (243.7, 243.7, "written"),
        (0, 0, "written"),
    ],
)
def test_exposure_times(written: float, exact: float, basis: str) -> None:
    assert snap_exposure_time(written) == (pytest.approx(exact, rel=1e-12), basis)


@pytest.mark.parametrize(
    ("written", "exact", "basis"),
    [
        (11, 11.3137, "third"),
        (13, 12.6992, "third"),
        (3.5, 3.5636, "third"),
        (6.3, 6.3496, "third"),
        (0.95, 0.95, "written"),
        (1.7, 1.6818, "half"),
        (2.4, 2.3784, "half"),
        (3.3, 3.3636, "half"),
        (4.8, 4.7568, "half"),
        (6.7, 6.7272, "half"),
        (9.5, 9.5137, "half"),
        (2.7, 2.7, "written"),
        (4.33, 4.33, "written"),
        (math.inf, math.inf, "written"),
    ],
)
def test_f_numbers(written: float, exact: float, basis: str) -> None:
    assert snap_f_number(written) == (pytest.approx(exact, abs=5e-5), basis)


def test_every_nominal_value_lies_near_its_exact_one() -> None:
    # a wrong row of the tables would be a third of a stop off; rounding in the trade's names stays below
    times = [number(t) for t in TV] + [
        1.3,
        2.5,
        6,
        10,
        13,
        20,
        25,
        0.6,
        1 / 5,
        1 / 13,
        1 / 80,
        1 / 640,
        1 / 6400,
    ]
    for t in times:
        assert abs(math.log2(snap_exposure_time(t)[0] / t)) < 0.1
    for n in [
        0.8,
        0.9,
        1.1,
        1.2,
        1.6,
        1.8,
        2.2,
        2.5,
        3.2,
        4.5,
        5,
        7.1,
        9,
        10,
        14,
        18,
        20,
        25,
        29,
        45,
        64,
        90,
    ]:
        assert abs(2 * math.log2(snap_f_number(n)[0] / n)) < 0.15


def test_snapping_twice_changes_nothing() -> None:
    for i in range(-45, 16):
        exact = 2.0 ** (i / 3)
        assert snap_exposure_time(min(exact, 30.0))[0] == pytest.approx(exact)
    for i in range(-3, 40):
        exact = 2.0 ** (i / 6)
        assert snap_f_number(exact) == (pytest.approx(exact), "third")


def test_ev100() -> None:
    # the "sunny 16" setting, f/16 at 1/125 s and ISO 100: EV 15; common practice, no source
    assert ev100(16.0, 2.0**-7, 100.0) == pytest.approx(15)
    assert ev100(16.0, 2.0**-7, 400.0) == pytest.approx(13)
    several = ev100(np.array([8.0, np.nan]), np.array([1.0, 1.0]), np.array([100.0, 100.0]))
    assert several[0] == pytest.approx(6)
    assert np.isnan(several[1])


def test_time_that_makes_up_for_a_filter() -> None:
    # 1/4 s and 10 stops: 2^10 / 4 s = 4 min 16 s; density 3.0 is a factor of 1000: 250 s = 4 min 10 s
    assert compensated_time_s(0.25, 10.0) == 4 * 60 + 16
    assert compensated_time_s(0.25, float(stops_from_density(3.0))) == pytest.approx(4 * 60 + 10)
    np.testing.assert_allclose(compensated_time_s(np.array([1.0, 8.0]), np.array([3.0, -3.0])), [8.0, 1.0])
