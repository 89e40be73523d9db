"""What another body saw of the light at the same place and minute."""

from __future__ import annotations

import numpy as np

from audit.exposure.observations import Units, Wholes
from audit.optics.arrays import Floats

NEAR_MIN = 5.0
"""So near in time another body's frame tells of the light (common practice, no source)."""
OFF_STOPS = 1.2
"""Two framings of one place differ by so much: chosen on the tuning half of benchmarks/world."""


def witnesses(units: Units) -> Wholes:
    """For each unit the unit of another body nearest in time, so near that it tells of the light; else -1.

    A unit without a time counts as where its neighbours put it.
    """
    nearest = np.full(len(units.second), np.inf)
    found = np.full(len(units.second), -1)
    for body in np.unique(units.body):
        theirs = np.flatnonzero(units.body == body)
        theirs = theirs[np.argsort(units.second[theirs], kind="stable")]
        mine = np.flatnonzero(units.body != body)
        after = np.searchsorted(units.second[theirs], units.second[mine])
        for place in (after - 1, after):
            other = theirs[np.clip(place, 0, len(theirs) - 1)]
            away = np.abs(units.second[other] - units.second[mine])
            closer = away < np.minimum(nearest[mine], 60 * NEAR_MIN)
            nearest[mine[closer]] = away[closer]
            found[mine[closer]] = other[closer]
    return found


def seen_beside(units: Units, witness: Wholes, ev100: Floats) -> tuple[Floats, Floats]:
    """The light [EV100] that the `witness` of each unit saw, and how far off [stop]; 0 off: nobody beside.

    `ev100` is what each body's own frames say of the light, so that nobody hears back what he said; it is
    looked at where somebody is a witness. Told once for each composition and each five minutes.
    """
    seen = witness >= 0
    stretch = np.floor(units.second / (60 * NEAR_MIN))
    once = units.new_setup | (np.diff(stretch, prepend=-1.0) != 0)
    return np.where(seen, ev100[witness], 0.0), np.where(seen & once, OFF_STOPS, 0.0)
