"""Whether filters going on or off explain a run of stepped exposures as well as a hand on the dial does."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.exposure.states import is_extra, is_neutral
from audit.exposure.steps import SAME_STOPS, steps_of
from audit.kit.kit import Filter, Kit, ScrewIn
from audit.optics.arrays import Floats

CHANGE_S = 5.0
"""Quicker than this no filter goes on or off: common practice, no source."""
MOST_LEVELS = 5
"""More levels in one go are not made by filters: common practice, no source."""
CELL_STOPS = 0.05
TOLERANCE_STOPS, TOLERANCE_SHARE = 0.35, 0.3
"""How far strengths, light and rounding may be off, at most this share of a step."""
MOST_WORN, MOST_STOPS = 4, 20.0
"""Filters at once, and the stops up to which their sums are looked at."""


def losses(kit: Kit) -> NDArray[np.bool_] | None:
    """What the kit's filters can cost together, as cells of `CELL_STOPS` from 0; None without any.

    A grad costs none to all of its stops, by where it is set; a polariser what its turn makes of it.
    """
    items: dict[str, Filter | ScrewIn] = {f.id: f for f in kit.filters}
    items |= {f.id: f for f in kit.screw_ins}
    ranges = [x.loss_stops for x in items.values() if is_neutral(x)]
    extras = [x for x in items.values() if is_extra(x)]
    ranges += [(x.loss_stops[0] if x.kind == "polariser" else 0.0, x.loss_stops[1]) for x in extras]
    if not ranges:
        return None
    worn = np.zeros((MOST_WORN + 1, round(MOST_STOPS / CELL_STOPS) + 1), dtype=bool)
    worn[0, 0] = True
    for least, most in ranges:
        for count in range(MOST_WORN, 0, -1):
            worn[count] |= _moved(worn[count - 1], round(least / CELL_STOPS), round(most / CELL_STOPS))
    return np.asarray(worn.any(axis=0), dtype=bool)


def _moved(cells: NDArray[np.bool_], least: int, most: int) -> NDArray[np.bool_]:
    """The cells reached from these by `least` to `most` cells more."""
    counted = np.cumsum(np.append(0, cells))
    place = np.arange(len(cells))
    first, last = (np.clip(place + by, 0, len(cells)) for by in (-most, 1 - least))
    return np.asarray(counted[last] > counted[first], dtype=bool)


def filters_explain(ev: Floats, pause_s: Floats, cost: NDArray[np.bool_] | None) -> bool:
    """Whether one light and the kit's filters give these exposures: time enough at each step, sums that fit.

    Parameters
    ----------
    ev : exposures in order, higher for a darker picture [stop]
    pause_s : pause before each of them [s]
    cost : of `losses` [-]
    """
    steps = steps_of(ev)
    if cost is None or not 2 <= steps.levels <= MOST_LEVELS:
        return False
    turned = np.abs(np.diff(ev)) > SAME_STOPS
    if (pause_s[1:][turned] < CHANGE_S).any():
        return False
    slack = round(min(TOLERANCE_STOPS, TOLERANCE_SHARE * steps.usual) / CELL_STOPS)
    near = _moved(np.pad(cost, slack), -slack, slack)
    fits = np.ones(len(cost), dtype=bool)
    for off in np.rint((ev.max() - ev) / CELL_STOPS).astype(int).tolist():
        fits &= np.append(near[slack + off :], np.zeros(off + slack, dtype=bool))[: len(cost)]
    return bool(fits.any())
