"""Frames as the measurements of pairs see them, and which frame each is held against."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import pandas as pd

from audit.declare.rig import Rig
from audit.exposure.light import lit_otherwise
from audit.exposure.scenes import moments
from audit.kit.kit import Kit
from audit.pixels.sketch import Sketch
from audit.table.columns import records

Row = Mapping[str, Any]
USED = (
    *("frame", "files", "preview_file", "preview_offset", "preview_bytes", "width_px", "height_px"),
    *("orientation", "model", "lens", "focal_length_mm", "f_number_exact", "exposure_time_s"),
    *("exposure_time_exact_s", "ev100", "sky_ev100", "white_balance", "scene", "corner"),
    *("declaration", "declaration_source", "rig", "mount", "filters", "even_stops_min", "even_stops_max"),
    *("formats", "composite", "sensor_width_mm", "sensor_height_mm", "notes_about"),
)
"""Columns of a row that are looked at here and where pictures come from."""


class Pictures(Protocol):
    """Gives a frame's small picture when asked."""

    def of(self, row: Row) -> Sketch | None:
        """The small picture of a frame, or None."""

    def why(self, row: Row) -> str:
        """Why there is none."""

    def ahead(self, rows: Iterable[Row]) -> None:
        """Rows whose pictures will be asked for, in this order."""


HAND_TIMED_S = 30.0
"""Longer exposures are timed by hand or a remote: half a second more or less (common practice, no source)."""
HAND_ERR_S = 0.5
APERTURE_ERR_STOPS = 0.1
"""How far the step between two f-numbers of a lens may be off (common practice, no source)."""
MINUTES_PER_STOP = 3.0
"""A partner a stop nearer in brightness is worth one that many minutes further away."""
SECOND_BEST = 30.0
"""What an empty holder costs as a partner, in minutes: only a bare lens shows what the holder cuts."""
TRIED = 3
"""Partners tried for a frame before it is said that none shows the same picture."""


@dataclass(frozen=True)
class Shot:
    """One frame of a scene. `glasses` are the filters that darken it; `even_stops` their declared loss."""

    row: Mapping[str, Any]
    label: object
    frame: str
    rig: Rig
    minute: float
    exposure_s: float
    ev100: float
    sky_ev100: float
    f_number: float
    glasses: tuple[str, ...]
    uneven: str
    even_stops: float
    fixed_white_balance: bool | None

    @property
    def is_bare(self) -> bool:
        """Whether nothing at all was declared to be on."""
        return self.rig.state == "bare"

    @property
    def is_clear(self) -> bool:
        """Whether nothing that darkens was declared to be on."""
        return not self.glasses

    def sky_change(self, other: Shot) -> float:
        """By how much the sun makes this frame's light differ from another's, stops; 0 where unknown."""
        change = self.sky_ev100 - other.sky_ev100
        return change if math.isfinite(change) else 0.0

    def ev_err(self, other: Shot) -> float:
        """95 % range of the difference of the two exposures, stops."""
        err = APERTURE_ERR_STOPS if self.f_number != other.f_number else 0.0
        for shot in (self, other):
            if shot.exposure_s > HAND_TIMED_S:
                err = math.hypot(err, HAND_ERR_S / shot.exposure_s / math.log(2))
        return err


def scenes_of(frames: pd.DataFrame, rigs: Mapping[str, Rig], kit: Kit) -> dict[str, list[Shot]]:
    """By scene its frames that may be held against one another, in order of time.

    Only what the photographer declared takes part: an estimate came from the exposures itself.
    """
    part = frames[comparable(frames)]
    minute = moments(part).astype("int64") / 60e6
    kinds = kinds_of(kit)
    order = part.assign(_minute=minute).sort_values(["_minute", "frame"])
    found: dict[str, list[Shot]] = defaultdict(list)
    for label, row in zip(order.index, records(order, (*USED, "_minute")), strict=True):
        found[str(row["scene"])].append(_shot(label, row, rigs[row["rig"]], kinds))
    return found


def comparable(frames: pd.DataFrame) -> pd.Series:
    """Whether a frame may be held against others of its scene."""
    declared = frames["declaration"].isin(["worn", "bare"]) & (frames["declaration_source"] == "photographer")
    exposed = frames["ev100"].notna() & ~lit_otherwise(frames)
    return declared & exposed & frames["scene"].notna() & frames["problem"].isna()


def kinds_of(kit: Kit) -> dict[str, str]:
    """Filter id to its kind, of those that take light."""
    parts = [*kit.filters, *kit.screw_ins]
    return {part.id: part.kind for part in parts if part.loss_stops[1] > 0 or part.is_grad}


def glasses_of(rig: Rig, kinds: Mapping[str, str]) -> tuple[tuple[str, ...], str]:
    """The filters of a rig that take light, and which of them is uneven: grad, polariser, or ""."""
    worn = tuple(sorted(name for name in rig.filters if name in kinds))
    uneven = next((kinds[name] for name in worn if kinds[name] not in ("neutral", "other")), "")
    return worn, "grad" if uneven.startswith("grad") else uneven


def _shot(label: object, row: Mapping[str, Any], rig: Rig, kinds: Mapping[str, str]) -> Shot:
    worn, uneven = glasses_of(rig, kinds)
    exposure_s = float(row["exposure_time_exact_s"])
    balance = row["white_balance"]
    return Shot(
        row=row,
        label=label,
        frame=row["frame"],
        rig=rig,
        # The stamp is the start of the exposure with most cameras.
        minute=float(row["_minute"]) + exposure_s / 120,
        exposure_s=exposure_s,
        ev100=float(row["ev100"]),
        sky_ev100=float(row["sky_ev100"]),
        f_number=float(row["f_number_exact"]),
        glasses=worn,
        uneven=uneven,
        even_stops=sum(rig.even_stops) / 2,
        fixed_white_balance=None if pd.isna(balance) else balance == "fixed",
    )


def partners(shot: Shot, scene: list[Shot]) -> list[Shot]:
    """Up to `TRIED` frames without filters to hold a frame against, the best first.

    Near in time, near in brightness, and bare rather than behind an empty holder.
    """
    known = [other for other in scene if other.is_clear and other is not shot and _alike(shot, other)]

    def cost(other: Shot) -> tuple[float, str]:
        brighter = shot.even_stops - (other.ev100 - shot.ev100)
        away = abs(other.minute - shot.minute)
        return away + MINUTES_PER_STOP * abs(brighter) + SECOND_BEST * (not other.is_bare), other.frame

    return sorted(known, key=cost)[:TRIED]


def _alike(a: Shot, b: Shot) -> bool:
    names = ("orientation", "width_px", "height_px")
    return all(
        a.row[name] == b.row[name] or (pd.isna(a.row[name]) and pd.isna(b.row[name])) for name in names
    )
