"""A first look at every picture: how bright it came out, and whether it only marks a change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.exposure.scenes import moments
from audit.message.text import marked
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.compositions import fingerprint
from audit.pixels.shots import USED, Pictures, Row
from audit.pixels.sketch import Sketch
from audit.table.columns import filled, records

BLACK_SHARE = 0.95
"""Of every third: nothing but a cap or a hand is so black."""
STEADY = 0.93
"""Likeness of two frames of one tripod position: 0.94 at least in painted scenes at another hour and
exposure; two photographs from the air, with another one between them, reach 0.8."""
UNLIKE = 0.5
"""Likeness of two compositions below which one of them shows something else."""
NEAR_MIN = 3.0
"""A marker stands so close to the frames before and after it, minutes between exposures."""


@dataclass(frozen=True)
class Glance:
    """What is looked at of one frame: when it began and ended, its fingerprint, its least black third."""

    start_min: float
    end_min: float
    fingerprint: NDArray[np.float64]
    black: float


def find_markers(glances: Sequence[Glance | None]) -> list[str]:
    """For each frame of one body, lens and focal length in order of time: why it is a marker, or "".

    None stands for a frame without pixels, which no frame is held against.
    """
    return [
        _marker(*(glances[i] if 0 <= i < len(glances) else None for i in (n - 1, n, n + 1)))
        for n in range(len(glances))
    ]


def _marker(before: Glance | None, one: Glance | None, after: Glance | None) -> str:
    if one is None:
        return ""
    if one.black >= BLACK_SHARE:
        return marked("the picture is black all over: a lens cap or a hand before the lens")
    if before is None or after is None:
        return ""
    near = one.start_min - before.end_min <= NEAR_MIN and after.start_min - one.end_min <= NEAR_MIN
    same = _likeness(before, after) >= STEADY
    other = one.fingerprint.any() and max(_likeness(one, before), _likeness(one, after)) < UNLIKE
    if near and same and other:
        return marked("something else between two frames of one composition: a hand or a label")
    return ""


def _likeness(a: Glance, b: Glance) -> float:
    return float(a.fingerprint @ b.fingerprint)


Shares = NDArray[np.float64]
THIRDS = ("top", "middle", "bottom")
_TURNS = {3: 2, 4: 2, 5: -1, 6: -1, 7: 1, 8: 1}
"""Quarter turns anticlockwise that bring a picture of an EXIF orientation upright (EXIF 2.32, tag 0x0112).

Mirroring from side to side leaves the thirds as they are, so 2 is 1, 4 is 3, 5 is 6 and 7 is 8.
"""


def thirds(ninths: Shares, orientation: int | None) -> tuple[float, float, float]:
    """Shares in the top, middle and bottom third as one sees the picture, from the (3, 3) as stored."""
    upright = np.rot90(ninths, _TURNS.get(orientation or 1, 0))
    top, middle, bottom = (float(row.mean()) for row in upright)
    return top, middle, bottom


MIDDLE_GREY = 0.18
"""Of white: the grey card (common practice, no source)."""


def brightness_stops(sketch: Sketch, curve: Curve = GENERAL) -> float:
    """Mean light over middle grey, stops; black and white count as the ends of the curve."""
    light = 2.0 ** light_stops(np.clip(sketch.grey, DARKEST, BRIGHTEST), curve)
    return float(np.log2(light.mean() / MIDDLE_GREY))


Rows = list[tuple[object, Row]]


def by_scene(frames: pd.DataFrame) -> list[tuple[str, Rows]]:
    """Scene and its rows (label, cells) in order of time; frames without a scene are one each.

    Each row has `moment_min` besides: minutes by the body's clock, NaN where the file tells none.
    """
    scene = frames["scene"].astype(object).where(frames["scene"].notna(), frames["frame"])
    minute = (moments(frames).astype("int64") / 60e6).where(frames["captured_at"].notna())
    order = frames.assign(_scene=scene, moment_min=minute).sort_values(["moment_min", "counter", "frame"])
    rows = records(order, (*USED, "moment_min"))
    found: dict[str, Rows] = defaultdict(list)
    for name, label, row in zip(order["_scene"], order.index, rows, strict=True):
        found[str(name)].append((label, row))
    return sorted(found.items())


def scenes_ahead(frames: pd.DataFrame, pictures: Pictures) -> list[tuple[str, Rows]]:
    """As `by_scene`; the pictures are told that they will be asked for in this order."""
    scenes = by_scene(frames)
    pictures.ahead(row for _, rows in scenes for _, row in rows)
    return scenes


def markers_of(rows: Rows, pictures: Pictures) -> dict[object, str]:
    """Labels of the frames of a scene that only mark a change, with the reason."""
    glances = [_glance(row, pictures.of(row)) for _, row in rows]
    return {label: words for (label, _), words in zip(rows, find_markers(glances), strict=True) if words}


def _glance(row: Row, sketch: Sketch | None) -> Glance | None:
    if sketch is None:
        return None
    exposure_min: float = float(row["exposure_time_s"]) / 60 if pd.notna(row["exposure_time_s"]) else 0.0
    start = float(row["moment_min"])
    return Glance(start, start + exposure_min, fingerprint(sketch.grey), min(thirds(sketch.black, None)))


def look_over(
    frames: pd.DataFrame, pictures: Pictures, progress: Callable[[int, int], None] | None = None
) -> pd.DataFrame:
    """Fills `picture_stops` and `marker` and nothing else of the pixel columns; needs `scene`."""
    bright: dict[object, float] = {}
    marks: dict[object, str] = {}
    for _, rows in scenes_ahead(frames, pictures):
        for label, row in rows:
            sketch = pictures.of(row)
            if sketch is not None:
                bright[label] = brightness_stops(sketch)
            if progress is not None:
                progress(len(bright), len(frames))
        marks.update(markers_of(rows, pictures))
    found: dict[str, dict[object, Any]] = {"picture_stops": bright, "marker": marks}
    return filled(frames, {name: map(cells.get, frames.index) for name, cells in found.items()})


def name_markers(frames: pd.DataFrame) -> pd.DataFrame:
    """Puts the markers found in the pictures among the sequences."""
    free = frames["marker"].notna() & frames["sequence"].isna()
    return filled(
        frames,
        {
            "sequence": frames["sequence"].mask(free, marked("marker")),
            "sequence_of": frames["sequence_of"].mask(free, frames["frame"]),
            "sequence_words": frames["sequence_words"].mask(free, frames["marker"]),
        },
    )
