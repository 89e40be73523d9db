"""Expected light by the sun's altitude, against published tables."""

import numpy as np
import pytest

from audit.optics.sky import (
    STARLIGHT_LUX,
    direct_lux,
    ev100_from_lux,
    expected_ev100,
    expected_slope,
    front_lit_lux,
    horizontal_lux,
    level_err_stops,
    mean_over_exposure,
    slope_err,
)

# Glossary of Meteorology (American Meteorological Society), civil, nautical and astronomical twilight: on a
# clear evening the horizontal illuminance goes from 585-410 lux at sunset (the upper limb at the horizon) to
# 3.5-2 lux, then to 0.008 and to 6e-4 lux.
AMS_LUX = [(-0.833, 410, 585), (-6.0, 2, 3.5), (-12.0, 0.008, 0.008), (-18.0, 6e-4, 6e-4)]


@pytest.mark.parametrize(("altitude", "least", "most"), AMS_LUX)
def test_twilight_illuminance_is_that_of_the_glossary_of_meteorology(altitude, least, most):
    sunlight = horizontal_lux(altitude) - STARLIGHT_LUX
    assert least / 1.1 <= sunlight <= most * 1.1


def test_the_night_is_darker_than_full_moon_and_no_darker_than_overcast_starlight():
    """Tables of lux: moonless with airglow 0.002, moonless and overcast 0.0001, full moon 0.05 to 0.3."""
    assert 0.0001 < horizontal_lux(-50.0) <= 0.002
    assert horizontal_lux(-50.0) == horizontal_lux(-18.0)


# Exposure values at ISO 100 of ANSI PH2.7 (1973, 1986) by way of the encyclopedia's table: 15 for a typical
# scene in full sunlight, front-lit, from about two hours after sunrise (20 degrees at middle latitudes); 12
# under heavy overcast, 16 on snow or sand.
@pytest.mark.parametrize("altitude", [20.0, 30.0, 45.0, 60.0, 75.0])
def test_a_front_lit_landscape_in_full_sun_has_ev_15(altitude):
    assert expected_ev100(altitude) == pytest.approx(15.0, abs=0.7)
    assert expected_ev100(altitude) - level_err_stops(altitude) < 12.7
    assert expected_ev100(altitude) + level_err_stops(altitude) > 16.0


def test_full_sunlight_on_level_ground():
    """Tables of lux: direct sunlight 32,000 to 100,000 lux (somewhat more with the sky at the zenith)."""
    assert 32_000 < horizontal_lux(30.0) < horizontal_lux(60.0) < 110_000
    # 1 - 1/e^(0.21) of the light is lost straight down (the same 1984 practice), 127.5 klx above
    assert direct_lux(90.0) == pytest.approx(103_400, rel=0.01)


def test_illuminance_and_exposure_value():
    """EV 0 is 2.5 lux, each stop doubles (C = 250)."""
    np.testing.assert_allclose(ev100_from_lux([2.5, 5.0, 2560.0]), [0.0, 1.0, 10.0])
    assert np.isnan(expected_ev100(np.nan))


def test_the_light_falls_steadily_with_the_sun():
    altitudes = np.arange(-18.0, 20.0, 0.1)
    for lux in (horizontal_lux(altitudes), front_lit_lux(altitudes)):
        assert (np.diff(np.log2(lux)) > -0.02).all()
        assert np.abs(np.diff(np.log2(lux))).max() < 0.2


def test_slope_is_the_change_of_level():
    altitude, rate = np.linspace(-14.0, 60.0, 200), -0.2
    change = (expected_ev100(altitude + 0.5) - expected_ev100(altitude - 0.5)) * rate
    np.testing.assert_allclose(expected_slope(altitude, rate), change)
    assert expected_slope(-4.0, -0.2) == pytest.approx(-0.26, abs=0.05)
    assert abs(expected_slope(45.0, -0.2)) < 0.01


def test_the_slope_is_sure_at_dusk_and_open_at_night():
    dusk, night = expected_slope(-4.0, -0.2), expected_slope(-13.0, -0.2)
    assert slope_err(-4.0, dusk) < abs(dusk) / 2
    assert slope_err(-13.0, night) > abs(night)
    assert slope_err(45.0, 0.0) < 0.1  # below the drift of daylight that a scene is allowed


@pytest.mark.parametrize("altitude", [2.0, 4.0, 8.0, 15.0])
def test_the_slope_leaves_room_for_a_scene_in_the_shade(altitude):
    """Clear sky without the sun: 0.8 + 15.5 sqrt(sin altitude) klx (IES 1984, from memory)."""
    sky = [0.8 + 15.5 * np.sqrt(np.sin(np.radians(altitude + step))) for step in (-0.5, 0.5)]
    shade, sunlit = np.log2(sky[1] / sky[0]) * -0.2, expected_slope(altitude, -0.2)
    assert abs(shade - sunlit) <= slope_err(altitude, sunlit)


@pytest.mark.parametrize("slope", [-0.4, -0.1, 0.0, 0.3])
def test_mean_over_an_exposure_is_that_of_the_luminance(slope):
    """Against the mean of 2^EV summed up, with the stamp at the start and at the end."""
    t = np.linspace(0.0, 8.0, 200_001)
    ways = [np.log2(np.trapezoid(2.0 ** (3.0 + slope * when), t) / 8.0) for when in (t, t - 8.0)]
    middle, err = mean_over_exposure(3.0, slope, 8.0)
    assert middle == pytest.approx(np.mean(ways), abs=1e-6)
    assert err == pytest.approx(abs(ways[0] - ways[1]) / 2, abs=1e-6)


def test_mean_over_a_long_exposure_does_not_overflow():
    middle, err = mean_over_exposure([3.0, np.nan], [-2000.0, -0.1], [1.0, np.nan])
    assert np.isfinite(middle[0]) and err[0] == 1000.0 and np.isnan(middle[1])
