"""Where the total exposure changed at once while the scene held, as when a filter goes on or comes off.

Shutter, aperture and ISO are one number (ev100), a compensation is counted out, and where the picture was
looked at, how bright it came out is counted in; the sun's own change is taken out where it is known. What is
left can still be a cloud or another metering: it is told, never held against anybody.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from audit.exposure.observations import NOTHING, Units, Wholes, units_of
from audit.optics.arrays import Floats

LEAST_STOPS = 2.5
"""Less is not told: metering and clouds do as much. Chosen on 20 trips of benchmarks/world's tune half, where
85 of 90 changes by a neutral of 3 stops or more were told, and 7 of 98 told were none (3.0: 81, 3 of 88)."""
LONGEST_GAP_S = 300.0
"""After a longer pause the light need not be the same: common practice, no source."""


class Change(NamedTuple):
    """Rows of the table before and after; `stops` is positive where as if so much went on."""

    before: int
    after: int
    stops: float


def exposure_changes(frames: pd.DataFrame) -> list[Change]:
    """Changes within a setup from one frame (or bracket, by its middle) to the next, the largest first.

    `frames` has the setup columns; `picture_stops` and `sky_ev100` are used where they are filled. Frames
    that only mark a change are passed over.
    """
    kept = np.flatnonzero((frames["sequence"] != "marker").fillna(True).to_numpy(dtype=bool))
    part = frames.iloc[kept]
    if part.empty:
        return []
    bright, sky = (part[name].to_numpy(dtype=float) for name in ("picture_stops", "sky_ev100"))
    units = units_of(part, sky_ev100=sky, rendered_stops=bright, use_declared=False)
    fell = _fell(units)
    held = (
        ~units.new_setup & units.timed & np.append(False, units.timed[:-1]) & (units.gap_s <= LONGEST_GAP_S)
    )
    found = np.flatnonzero(held & (np.abs(np.nan_to_num(fell)) >= LEAST_STOPS))
    last = _last_rows(units)
    changes = [
        Change(int(kept[last[unit - 1]]), int(kept[units.first_row[unit]]), float(fell[unit]))
        for unit in found
    ]
    return sorted(changes, key=lambda one: (-abs(one.stops), one.before))


def _fell(units: Units) -> Floats:
    """By how much the light that each unit was exposed for lies below that of the one before; NaN: not known.

    How bright pictures came out counts where both were looked at; else only what the dials say.
    """
    looked = units.set_kind != NOTHING
    dials = np.where(looked, units.set_value, units.value)
    both = looked & np.append(False, looked[:-1])
    rose = np.where(both, np.diff(units.value, prepend=np.nan), np.diff(dials, prepend=np.nan))
    return np.asarray(np.nan_to_num(np.diff(units.sky, prepend=np.nan)) - rose, dtype=float)


def _last_rows(units: Units) -> Wholes:
    """The row of each unit that was taken last."""
    last = units.first_row.copy()
    for row, unit in enumerate(units.row_unit.tolist()):
        last[unit] = max(last[unit], row)
    return last
