"""How a frame was shot, and what that says of filters: nobody chooses ISO 3200 with a neutral on.

Every number is an assumption (common practice, no source): how much rarer, relative to the open lens, such
a frame is behind that much. It counts where the manner changes, not once for each frame of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.exposure.observations import Units
from audit.exposure.states import States
from audit.optics.arrays import Floats

DENSE_FROM = (1.0, 5.0, 8.0)
"""Stops from which neutrals are light, strong, very strong."""
TIMES = (1 / 40, 1.0, 40.0)
"""Bounds of hand-held, short, on a tripod, minutes [s]."""
BY_TIME = ((1.0, 0.7, 0.3, 0.1), (1.0, 1.0, 0.6, 0.3), (1.0, 1.0, 1.0, 1.0), (0.12, 0.4, 1.0, 1.0))
"""Minutes speak for strong neutrals, a hand-held time against them, and a filter is left on now and then."""
HELD_S = 0.2
"""Up to here a raised ISO says that the camera was held in the hand."""
RAISED = (1.5, 4.0)
"""Bounds of ISO as it is, raised, raised far [stop]."""
BY_ISO = (
    *((1.0, 1.0, 1.0, 1.0), (1.0, 0.6, 0.35, 0.2), (1.0, 0.4, 0.2, 0.06)),
    *((1.0, 1.0, 1.0, 1.0), (1.0, 0.9, 1.0, 1.0), (1.0, 0.7, 1.0, 1.0)),
)
"""By stops that ISO is raised, on a tripod and then by hand, where it is raised for the hand's sake."""
WIDE = 5.0
"""An f-number below it isn't a landscape's on a tripod."""
BY_APERTURE = ((1.0, 1.0, 1.0, 1.0), (1.0, 0.7, 0.5, 0.3))
NIGHT_S, NIGHT_STOPS = 2.0, 3.0
"""Seconds, wide open, at so many stops of ISO more: stars."""
BY_NIGHT = ((1.0, 1.0, 1.0, 1.0), (1.0, 0.1, 0.03, 0.02))
BY_FLASH = ((1.0, 1.0, 1.0, 1.0), (1.0, 0.4, 0.1, 0.05))
BY_PROGRAM = ((1.0, 1.0, 0.8, 0.4), (1.0, 1.0, 1.0, 1.0))

FIRST, AGAIN = 0.4, 0.2
"""Powers of these weights the first time in a run that frames are shot so, and each later time: they are no
independent witnesses. Chosen, with NONE_ODDS, on the tuning half of benchmarks/world."""


def manner_weights(units: Units, states: States) -> tuple[NDArray[np.int64], Floats]:
    """Row of each unit in a table (2 M + 1, C) of weights: M manners for the first time, again, as before."""
    held = (units.exposure_s < TIMES[0]) | ((units.exposure_s < HELD_S) & (units.raised_stops >= 1))
    wide = (units.f_number < WIDE) & (units.f_number > 0)
    marks = np.stack(
        [
            np.where(held, 0, np.maximum(np.digitize(units.exposure_s, TIMES), 1)),
            np.digitize(units.raised_stops, RAISED) + 3 * held,
            ~held & wide,
            (units.exposure_s >= NIGHT_S) & (units.raised_stops >= NIGHT_STOPS) & wide,
            units.flash,
            units.by_hand,
        ]
    ).astype(np.int64)
    told = units.exposure_s > 0
    manners, row = np.unique(marks, axis=1, return_inverse=True)
    row = row.ravel()
    dense = np.digitize(states.stops, DENSE_FROM)
    tables = [np.array(t) for t in (BY_TIME, BY_ISO, BY_APERTURE, BY_NIGHT, BY_FLASH, BY_PROGRAM)]
    table = np.ones((manners.shape[1] + 1, len(states.stops)))
    for place, manner in enumerate(manners.T):
        for by, mark in zip(tables, manner, strict=True):
            table[place] *= by[mark][dense]
    once = len(table) - 1
    table = np.concatenate([table[:once] ** FIRST, table[:once] ** AGAIN, table[once:]])
    as_before = ~units.new_run & (np.diff(row, prepend=-1) == 0)
    run = np.cumsum(units.new_run)
    _, first = np.unique(run * once + row, return_index=True)
    later = np.ones(len(row), dtype=bool)
    later[first] = False
    return np.where(as_before | ~told, len(table) - 1, row + later * once), table
