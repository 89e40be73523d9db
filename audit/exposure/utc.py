"""UTC for every frame: by the offset in EXIF, by the receiver's time, or by the kit's offset."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.kit.kit import Kit
from audit.message.text import marked

ZONE_STEP_MIN = 30.0
"""Zones differ by whole half hours; the few by a quarter cannot be told from a fix that has aged."""
FIX_AHEAD_MIN, FIX_AGE_MIN = 2.0, 10.0
"""How far a fix may lie after the picture (clocks differ) and before it (it has aged): common practice."""
LARGEST_OFFSET_MIN = 14 * 60

Words = NDArray[np.str_]


def utc_moments(frames: pd.DataFrame, kit: Kit) -> tuple[pd.Series, Words, Words]:
    """UTC of each frame's time stamp, from what it comes, why there is none.

    The camera's clock is set right by `clock_ahead_s` first. Exactly one of the two texts is not empty.
    """
    ahead = pd.to_timedelta(frames["clock_ahead_s"].fillna(0.0), unit="s").dt.as_unit("us")
    local = frames["captured_at"] - ahead
    written = frames["utc_offset_min"].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    received = _received_offset_min(local - frames["gps_at"])
    given = np.full(len(frames), np.nan if kit.utc_offset_min is None else float(kit.utc_offset_min))
    known = [~np.isnan(offset) for offset in (written, received, given)]
    offset = np.select(known, [written, received, given], np.nan)
    timed = frames["captured_at"].notna().to_numpy()
    told = [
        marked("UTC by the offset in EXIF"),
        marked("UTC by the receiver's time"),
        marked("UTC by the kit's utc_offset"),
    ]
    words = np.where(timed, np.select(known, told, ""), "")
    strange = timed & frames["gps_at"].notna().to_numpy() & np.isnan(received)
    why = np.select(
        [~timed, words != "", strange],
        [
            marked("no time of capture"),
            "",
            marked(
                "the receiver's time fits the clock in no zone "
                "(write utc_offset or clock_ahead_s into the kit)"
            ),
        ],
        marked("no offset from UTC (none in EXIF, no receiver's time, no utc_offset in the kit)"),
    )
    shift = pd.Series(pd.to_timedelta(offset, unit="min"), index=frames.index).dt.as_unit("us")
    return local - shift, words, why


def _received_offset_min(ahead: pd.Series) -> NDArray[np.float64]:
    """Offset of the zone in which local time less the receiver's UTC makes sense [min]; NaN where none."""
    minutes = ahead.dt.total_seconds().to_numpy(dtype=float) / 60.0
    offset = np.floor((minutes + FIX_AHEAD_MIN) / ZONE_STEP_MIN) * ZONE_STEP_MIN
    fits = (minutes - offset <= FIX_AGE_MIN) & (np.abs(offset) <= LARGEST_OFFSET_MIN)
    return np.where(fits, offset, np.nan)
