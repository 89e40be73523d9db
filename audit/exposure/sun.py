"""The sun's altitude for every frame, and the light that it leads to expect.

The altitude is the `astral` library's, the light and its errors are `audit.optics.sky`'s. Positions are used
here and nowhere told: no words below hold one.
"""

from __future__ import annotations

from math import isnan
from typing import Any

import numpy as np
import pandas as pd
from astral import Observer
from astral.sun import zenith_and_azimuth
from numpy.typing import ArrayLike, NDArray

from audit.kit.kit import Kit
from audit.message.text import joined, marked, say
from audit.optics.arrays import Floats
from audit.optics.sky import expected_ev100, expected_slope, level_err_stops, mean_over_exposure, slope_err
from audit.scan.times import EASTERNMOST_MIN, WESTERNMOST_MIN
from audit.table.columns import filled

ZONE_STEP_MIN = 30.0
"""Zones differ by whole half hours; the few by a quarter cannot be told from a fix that has aged."""
FIX_AHEAD_MIN, FIX_AGE_MIN = 2.0, 10.0
"""How far a fix may lie after the picture (clocks differ) and before it (it has aged): common practice."""

Words = NDArray[np.str_]


def utc_moments(frames: pd.DataFrame, kit: Kit) -> tuple[pd.Series, Words, Words]:
    """UTC of each frame's time stamp, from what it comes, why there is none.

    Exactly one of the two texts is not empty.
    """
    local = frames["captured_at"]
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
    fits = (minutes - offset <= FIX_AGE_MIN) & (offset >= WESTERNMOST_MIN) & (offset <= EASTERNMOST_MIN)
    return np.where(fits, offset, np.nan)


NEIGHBOUR_MIN = 60.0
"""A frame without a position takes that of the frame nearest in time, at most so far away: an hour by car is
a degree of longitude or four minutes of the sun."""
SUN_DEG_PER_MIN = 0.25
"""How fast the sun's hour angle grows: 360 degrees in 24 hours."""

Place = tuple[float, float]


def add_sky(frames: pd.DataFrame, kit: Kit, place: Place | None = None) -> pd.DataFrame:
    """Fills the columns of the sun and the expected light, and `sky_source`: from what, or why there is none.

    `place` is (latitude, longitude) in degrees; it stands in for frames without a position, before the kit's.
    `sky_ev100` is the light over the whole exposure (its mean luminance), without filters. Errors are 95 %.
    """
    utc, offset_from, no_time = utc_moments(frames, kit)
    latitude, longitude, place_from = _places(frames, utc, place, kit.position)
    altitude, rate = sun_altitude(utc, latitude, longitude)
    slope = expected_slope(altitude, rate)
    exposure_min = frames["exposure_time_s"].fillna(0.0).to_numpy(dtype=float) / 60.0
    level, unsure = mean_over_exposure(expected_ev100(altitude), slope, exposure_min)
    told = zip(no_time.tolist(), place_from.tolist(), offset_from.tolist(), strict=True)
    columns: dict[str, Any] = {
        "sun_altitude_deg": altitude,
        "sky_ev100": level,
        "sky_err_stops": np.hypot(level_err_stops(altitude), unsure),
        "sky_slope_stops_per_min": slope,
        "sky_slope_err_stops_per_min": slope_err(altitude, slope),
        "sky_source": [_source(*words) for words in told],
    }
    return filled(frames, columns)


def sun_altitude(utc: pd.Series, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Altitude of the sun's centre without refraction [deg] and its rate [deg/min]; NaN where anything lacks.

    The rate follows from the azimuth A: cos(latitude) sin(A) times the rate of the hour angle.
    """
    zenith, azimuth = np.full(len(utc), np.nan), np.full(len(utc), np.nan)
    latitude, longitude = np.asarray(latitude_deg, dtype=float), np.asarray(longitude_deg, dtype=float)
    observers: dict[Place, Observer] = {}
    rows = zip(utc.tolist(), latitude.tolist(), longitude.tolist(), strict=True)
    for row, (moment, north, east) in enumerate(rows):
        if moment is pd.NaT or isnan(north) or isnan(east):
            continue
        here = observers.get((north, east)) or observers.setdefault((north, east), Observer(north, east))
        zenith[row], azimuth[row] = zenith_and_azimuth(here, moment, with_refraction=False)
    turn = np.cos(np.radians(latitude)) * np.sin(np.radians(azimuth))
    return 90.0 - zenith, SUN_DEG_PER_MIN * turn


def _source(no_time: str, place_from: str, offset_from: str) -> str:
    """What place and time the sun comes from, or why there is none."""
    if no_time:
        return say("no sun model: {why}", why=no_time)
    if not place_from:
        return marked("no sun model: no place (none in the file, none in the kit, none given)")
    return joined([place_from, offset_from])


def _places(
    frames: pd.DataFrame, utc: pd.Series, given: Place | None, kit: Place | None
) -> tuple[Floats, Floats, NDArray[np.str_]]:
    """Latitude, longitude and where they come from, "" where there is no place."""
    latitude, longitude = (
        frames[name].to_numpy(dtype=float, copy=True) for name in ("latitude_deg", "longitude_deg")
    )
    own = ~np.isnan(latitude) & ~np.isnan(longitude)
    near = _nearest(utc, own)
    lent = near >= 0
    latitude[lent], longitude[lent] = latitude[near[lent]], longitude[near[lent]]
    told = [marked("position in the file"), marked("position of a frame near in time")]
    words = np.select([own, lent], told, "")
    from_kit, from_user = marked("place of the kit"), marked("place as given")
    otherwise, name = (kit, from_kit) if given is None else (given, from_user)
    if otherwise is not None:
        free = words == ""
        latitude[free], longitude[free] = otherwise
        words = np.where(free, name, words)
    return latitude, longitude, words


def _nearest(utc: pd.Series, own: NDArray[np.bool_]) -> NDArray[np.int64]:
    """For each row without a position the row nearest in time that has one, within an hour; else -1."""
    minute = utc.astype("int64").to_numpy() / 60e6
    timed = utc.notna().to_numpy()
    lenders = np.flatnonzero(own & timed)
    near = np.full(len(utc), -1)
    if not len(lenders):
        return near
    lenders = lenders[np.argsort(minute[lenders], kind="stable")]
    after = np.searchsorted(minute[lenders], minute)
    sides = np.stack([np.clip(after - 1, 0, None), np.clip(after, None, len(lenders) - 1)])
    gaps = np.abs(minute[lenders[sides]] - minute)
    best, gap = lenders[np.take_along_axis(sides, gaps.argmin(axis=0)[None], 0)[0]], gaps.min(axis=0)
    return np.where(timed & ~own & (gap <= NEIGHBOUR_MIN), best, near)
