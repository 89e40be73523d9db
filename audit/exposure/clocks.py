"""Which bodies' clocks differ, and by how much: each body beside the one with most frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from audit.exposure.clock_pair import Apart, Shots, by_receivers, by_scenes

LEAST_S, SURE = 30.0, 0.99
LEAST_FRAMES = 5
HALF_HOUR_S = 1800.0


@dataclass(frozen=True)
class Told:
    """What is told of a body's clock beside the main body's.

    `sure` is whether anything can be told, `proposed_s` the difference to be proposed, or None. `zone_s` is
    the difference of the zones that both wrote, None where these are not known or meet.
    """

    body: str
    main: str
    ahead_s: float
    err_s: float
    by: str
    sure: bool
    proposed_s: float | None
    zone_s: float | None


def apart(frames: pd.DataFrame) -> list[Told]:
    """Each body with a few frames beside the one with most."""
    timed = frames[frames["captured_at"].notna() & frames["body"].notna()]
    if "other_trip" in timed:
        timed = timed[timed["other_trip"].isna()]
    counts = timed["body"].value_counts()
    bodies = sorted((b for b in counts.index if counts[b] >= LEAST_FRAMES), key=lambda b: (-counts[b], b))
    parts = [timed[timed["body"] == body] for body in bodies]
    return [_told(part, parts[0], body, bodies[0]) for body, part in zip(bodies[1:], parts[1:], strict=True)]


def _told(part: pd.DataFrame, main: pd.DataFrame, body: str, main_body: str) -> Told:
    found = by_receivers(part, main) or by_scenes(_shots(part), _shots(main))
    sure, size = found.chance >= SURE, abs(found.ahead_s)
    proposed = _rounded(found) if sure and size >= max(LEAST_S, found.err_s) else None
    err_s = found.err_s + (abs(proposed - found.ahead_s) if proposed is not None else 0.0)
    return Told(body, main_body, found.ahead_s, err_s, found.by, sure, proposed, _zone_s(part, main))


def _zone_s(part: pd.DataFrame, main: pd.DataFrame) -> float | None:
    zones = [one["utc_offset_min"].dropna() for one in (part, main)]
    if any(one.empty for one in zones) or set(zones[0]) & set(zones[1]):
        return None
    return 60.0 * (float(zones[0].mode().iloc[0]) - float(zones[1].mode().iloc[0]))


def _rounded(found: Apart) -> float:
    """Clocks are most often wrong by whole half hours."""
    nearest = round(found.ahead_s / HALF_HOUR_S) * HALF_HOUR_S
    close = found.by != "receivers" and nearest != 0 and abs(nearest - found.ahead_s) <= found.err_s
    return nearest if close else float(round(found.ahead_s))


def _shots(part: pd.DataFrame) -> Shots:
    at = part["captured_at"].astype("int64").to_numpy() / 1e6
    order = np.argsort(at, kind="stable")
    loss = part["even_stops_min"].fillna(0.0).to_numpy(dtype=float)
    light = part["ev100"].to_numpy(dtype=float) + loss
    length = part["exposure_time_s"].fillna(0.0).to_numpy(dtype=float)
    return Shots(at[order], length[order], light[order], part["setup"].to_numpy(dtype=object)[order])
