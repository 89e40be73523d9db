"""Clocks set right: what the kit says of a clock is taken off every time before anybody looks at one."""

from __future__ import annotations

import pandas as pd

from audit.table.columns import filled

ZONE_STEP_MIN = 15.0
"""Zones differ by whole quarters of an hour (IANA time zone database)."""


def set_right(frames: pd.DataFrame) -> pd.DataFrame:
    """The table with `captured_at` less `clock_ahead_s`; `clock_at` keeps what the clock wrote.

    A clock that was set to another zone writes that zone as well, and its UTC was right all along: where the
    zone differs from that of the other bodies by just what the kit says, the zone is set right too.
    """
    written = frames["clock_at"]
    ahead_s = frames["clock_ahead_s"].fillna(0.0)
    local = written - pd.to_timedelta(ahead_s, unit="s").dt.as_unit("us")
    offset = frames["utc_offset_min"].astype("Float64").astype("float64")
    table = pd.DataFrame(
        {
            "local": local,
            "body": frames["body"],
            "offset": offset,
            "set_offset": offset - ahead_s / 60,
            "is_ahead": (ahead_s != 0) & (ahead_s / 60 % ZONE_STEP_MIN == 0),
        }
    )
    zone = offset.where(~_in_another_zone(table), table["set_offset"]).round()
    whole = [None if pd.isna(value) else int(value) for value in zone]
    return filled(frames, {"captured_at": local, "utc_offset_min": whole})


def _in_another_zone(table: pd.DataFrame) -> pd.Series:
    """Whether the frame's zone, less what its clock is ahead, is that of the other bodies' nearest frame."""
    told = table.dropna(subset=["local", "offset", "body"]).sort_values("local", kind="stable")
    sure = told[~told["is_ahead"]]
    doubted = told[told["is_ahead"]]
    found = pd.Series(False, index=table.index)
    if not len(sure) or not len(doubted):
        return found
    near = pd.merge_asof(
        doubted.reset_index(names="row"), sure[["local", "offset"]], on="local", direction="nearest"
    )
    found.loc[near.loc[near["set_offset"] == near["offset_y"], "row"]] = True
    return found
