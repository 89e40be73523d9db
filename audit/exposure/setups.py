"""Setups, the frames of one place and tripod position, and the sequences in which they were taken.

A frame of a bracket may belong to a panorama or a time-lapse of brackets: `bracket` stays, `sequence` names
the larger whole. Frames that mark a change (a hand, a cap, a filter's label) cannot be told without their
pixels and are not looked for here.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.scenes import differs, in_order
from audit.exposure.sequences import find_sequences
from audit.exposure.shots import Shots
from audit.table.columns import filled

SETUP_GAP_MIN = 10.0
"""Longest pause within a setup, minutes, after a long exposure and a dark frame as long."""
MOVED_M = 50.0
"""Positions further apart than this are two tripod positions; receivers wander by less (common practice)."""
METRES_PER_DEGREE = 111_195.0
"""Of latitude, on a sphere of 6371 km."""


def add_setups(frames: pd.DataFrame) -> pd.DataFrame:
    """Fills `setup`, `sequence` (its kind), `sequence_of` (its first frame) and `sequence_words` (evidence).

    Needs body, bracket and bracket_by. A setup is one body, lens, focal length and orientation without a long
    pause or a move, named after its first frame; frames without time or body, or of another trip, have none.
    The work grows with the number of frames.
    """
    order = in_order(frames[frames["other_trip"].isna()])
    number = setup_numbers(order)
    names = order["frame"].to_numpy(dtype=object)
    first = np.searchsorted(number, number)  # numbers grow along the order
    columns = {name: np.full(len(order), None, dtype=object) for name in _SEQUENCE}
    for found in find_sequences(_shots(order, number)):
        for name, value in zip(_SEQUENCE, (found.kind, names[found.rows[0]], found.words), strict=True):
            columns[name][found.rows] = value
    columns["setup"] = names[first]
    placed = pd.DataFrame(columns, index=order.index, dtype=object).reindex(frames.index)
    return filled(frames, {str(name): values for name, values in placed.items()})


_SEQUENCE = ("sequence", "sequence_of", "sequence_words")


def setup_numbers(order: pd.DataFrame) -> NDArray[np.int64]:
    """Number of the setup of each row, from 0; rows in order of body and time, with `moment`, `upright`."""
    changed = differs(order, "body", "lens", "focal_length_mm", "upright")
    time_s = order["exposure_time_s"].fillna(0.0).to_numpy(dtype=float)
    before_s = np.append(0.0, time_s[:-1]) if len(time_s) else time_s
    # the stamp is the start or the end, and the camera may add a dark frame as long as the exposure
    pause_s = order["moment"].diff().dt.total_seconds().to_numpy() - np.maximum(2 * before_s, time_s)
    breaks = changed | (pause_s > SETUP_GAP_MIN * 60) | (_moved_m(order) > MOVED_M)
    return np.cumsum(breaks) - 1


def _moved_m(order: pd.DataFrame) -> NDArray[np.float64]:
    """Distance from the frame before, metres; NaN where either has no position."""
    latitude = order["latitude_deg"].to_numpy(dtype=float)
    longitude = order["longitude_deg"].to_numpy(dtype=float)
    north = np.diff(latitude, prepend=np.nan)
    around = (np.diff(longitude, prepend=np.nan) + 180.0) % 360.0 - 180.0
    return METRES_PER_DEGREE * np.hypot(north, around * np.cos(np.radians(latitude)))


def _shots(order: pd.DataFrame, number: NDArray[np.int64]) -> Shots:
    """The ordered table as the arrays that sequences are found in."""

    def numbers(name: str) -> NDArray[np.float64]:
        return order[name].to_numpy(dtype=float)

    return Shots(
        setup=number,
        at_s=order["moment"].astype("int64").to_numpy() / 1e6,
        time_s=numbers("exposure_time_s"),
        f_number=numbers("f_number"),
        iso=numbers("iso"),
        ev=numbers("ev100"),
        distance_m=numbers("subject_distance_m"),
        bracket=pd.factorize(order["bracket"])[0],
        undecided=(order["bracket_by"] == "undecided").to_numpy(dtype=bool),
        upright=order["upright"].to_numpy(dtype=bool),
        manual=(order["exposure_program"].isna() | (order["exposure_program"] == "manual")).to_numpy(),
    )
