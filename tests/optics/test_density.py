from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics.density import (
    density_from_stops,
    factor_from_stops,
    stops_from_density,
    stops_from_factor,
    trade_stops,
)

# Density: stops and factor as the trade rounds them.
# Source: camera-wiki.org "Neutral density filter"; opticalglasscn.com/ND.php.
TABLE = {
    0.3: (1, 2),
    0.6: (2, 4),
    0.9: (3, 8),
    1.2: (4, 16),
    1.8: (6, 64),
    2.4: (8, 256),
    2.6: (8 + 2 / 3, 400),
    3.0: (10, 1000),
}


@pytest.mark.parametrize(("density", "nominal"), TABLE.items())
def test_nominal_table(density: float, nominal: tuple[float, float]) -> None:
    stops, factor = nominal
    assert trade_stops(density) == pytest.approx(stops, abs=0.005)
    assert stops_from_density(density) == pytest.approx(stops, abs=0.05)
    assert factor_from_stops(stops_from_density(density)) == pytest.approx(factor, rel=0.03)
    assert stops_from_factor(factor) == pytest.approx(stops, abs=0.05)


def test_exact_values() -> None:
    """From the definition factor = 2^stops = 10^density."""
    assert stops_from_density(3.0) == pytest.approx(9.9658, abs=5e-5)
    assert factor_from_stops(stops_from_density(3.0)) == pytest.approx(1000)
    assert stops_from_density(0.9) == pytest.approx(2.990, abs=5e-4)
    assert stops_from_density(4.0) == pytest.approx(13.29, abs=5e-3)
    assert density_from_stops(10) == pytest.approx(3.0103, abs=5e-5)


@given(st.floats(0, 20))
def test_there_and_back(stops: float) -> None:
    assert stops_from_density(density_from_stops(stops)) == pytest.approx(stops)
    assert stops_from_factor(factor_from_stops(stops)) == pytest.approx(stops, abs=1e-12)


def test_arrays() -> None:
    assert np.allclose(factor_from_stops(np.array([0, 1, 10])), [1, 2, 1024])
