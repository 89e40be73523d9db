"""The predicted corner loss of one rig on one lens: maps over the picture, a band, a verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass

from audit.message.text import marked
from audit.optics.arrays import Floats

CLEAR_STOPS = 0.1
"""Clear: less than this lost anywhere on the picture's edge even at the worst end of the band."""
CUT_STOPS = 0.5
"""Cut: this or more lost somewhere on the picture's edge even at the best end of the band."""
BLACK_STOPS = 10.0
"""A loss that no camera shows anything behind."""
LADDER = {
    "corner_3pct_deg": -math.log2(0.97),
    "corner_tenth_deg": CLEAR_STOPS,
    "corner_onset_deg": CUT_STOPS,
    "corner_one_deg": 1.0,
    "corner_black_deg": math.inf,
}
"""Losses whose field angles are told, by the table's column: 3 %, a tenth, half a stop, one stop, black."""
CORNERS = ((0, 0), (0, -1), (-1, 0), (-1, -1))
"""Top left, top right, bottom left, bottom right of a map, as the picture is stored."""


@dataclass(frozen=True)
class Prediction:
    """Losses in stops at the best end, in the middle and at the worst end of the band.

    Maps have shape (rows, columns), row 0 the top of the picture as stored, outermost cells on its edge.
    Angles are those of the corner furthest beyond the cut: its own, and in its direction those from which
    3 %, a tenth, half a stop, one stop is lost and all is black (90: nowhere).
    """

    angle_deg: float
    early_deg: float
    late_deg: float
    best: Floats
    middle: Floats
    worst: Floats
    angles_deg: tuple[float, ...]
    limits: str
    assumed: tuple[str, ...]

    @property
    def onset_deg(self) -> float:
        """Field angle from which half a stop is lost; 90: nowhere."""
        return self.angles_deg[2]

    @property
    def middle_corner_stops(self) -> tuple[float, ...]:
        """Loss in each of CORNERS, in the middle of the band."""
        return tuple(float(self.middle[place]) for place in CORNERS)

    @property
    def side_stops(self) -> tuple[float, ...]:
        """Loss at the middles of the top, bottom, left and right side, in the middle of the band."""
        rows, columns = self.middle.shape
        places = ((0, columns // 2), (-1, columns // 2), (rows // 2, 0), (rows // 2, -1))
        return tuple(float(self.middle[place]) for place in places)

    @property
    def loss_min_stops(self) -> float:
        """Most lost on the picture's edge at the best end."""
        return most_on_the_edge(self.best)

    @property
    def loss_max_stops(self) -> float:
        """Most lost on the picture's edge at the worst end."""
        return most_on_the_edge(self.worst)

    @property
    def loss_stops(self) -> float:
        """Most lost on the picture's edge in the middle of the band."""
        return most_on_the_edge(self.middle)

    @property
    def corner_stops(self) -> tuple[tuple[float, float, float], ...]:
        """(best, middle, worst) of each of CORNERS."""
        maps = (self.best, self.middle, self.worst)
        b, m, w = ([float(one[place]) for place in CORNERS] for one in maps)
        return tuple(zip(b, m, w, strict=True))

    @property
    def verdict(self) -> str:
        """clear, cut or at risk."""
        if self.loss_max_stops < CLEAR_STOPS:
            return marked("clear")
        return marked("cut") if self.loss_min_stops >= CUT_STOPS else marked("at risk")


def most_on_the_edge(losses: Floats) -> float:
    """Most that a map loses on the picture's edge."""
    edge = (losses[0], losses[-1], losses[:, 0], losses[:, -1])
    return float(max(side.max() for side in edge))
