from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.optics.falloff import Falloff, cos4_loss_stops, natural_falloff_stops

# Field angle [deg]: light left, loss in stops. Law: stason.org lenses FAQ no. 18; values computed from it.
COS4 = {
    10: (0.9406, 0.09),
    20: (0.7797, 0.36),
    30: (0.5625, 0.83),
    40: (0.3444, 1.54),
    45: (0.25, 2.0),
    50: (0.1707, 2.55),
}


@dataclass(frozen=True)
class Frame:
    focal_length_mm: float = 16
    f_number: float = 8
    distance_m: float = float("inf")
    half_diagonal_mm: float = 21.63


@dataclass(frozen=True)
class Lens:
    measured: Falloff | None

    def falloff(self, focal_length_mm: float, f_number: float, distance_m: float) -> Falloff | None:
        return self.measured


@pytest.mark.parametrize(("angle", "expected"), COS4.items())
def test_cos4_table(angle: float, expected: tuple[float, float]) -> None:
    loss = float(cos4_loss_stops(np.tan(np.radians(angle))))
    assert 2**-loss == pytest.approx(expected[0], abs=5e-5)
    assert loss == pytest.approx(expected[1], abs=5e-3)


@given(st.floats(0, 5))
def test_cos4_is_the_fourth_power(tangent: float) -> None:
    assert 2 ** -float(cos4_loss_stops(tangent)) == pytest.approx(np.cos(np.arctan(tangent)) ** 4)


def test_pa_polynomial() -> None:
    lens = Falloff(-0.7014, 0.1481, -0.1724, 21.63)
    assert float(lens.loss_stops(0)) == 0
    assert float(lens.loss_stops(21.63)) == pytest.approx(-np.log2(1 - 0.7014 + 0.1481 - 0.1724))
    middle = 1 - 0.7014 / 4 + 0.1481 / 16 - 0.1724 / 64
    assert float(lens.loss_stops(21.63 / 2)) == pytest.approx(-np.log2(middle))


def test_nothing_is_said_where_nothing_was_measured() -> None:
    """A larger sensor than the calibration's, and a polynomial that runs below no light at all."""
    assert np.isnan(Falloff(-0.5, 0, 0, 14).loss_stops([21.63])).all()
    assert np.isnan(Falloff(-1.2, 0, 0, 21.63).loss_stops([21.0])).all()
    assert natural_falloff_stops(Frame(), Lens(Falloff(-0.5, 0, 0, 14))) is None
    assert natural_falloff_stops(Frame(), Lens(None)) is None


def test_falloff_in_the_corner_of_a_frame() -> None:
    assert natural_falloff_stops(Frame(), Lens(Falloff(-0.5, 0, 0, 21.63))) == pytest.approx(1)
