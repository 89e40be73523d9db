"""From measurements to the cells of the pixel columns."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from audit.corners.prediction import BLACK_STOPS, Prediction
from audit.message.text import marked, say
from audit.optics.response import Curve
from audit.pixels.brightness import brightness_stops
from audit.pixels.clipping import THIRDS, thirds
from audit.pixels.compare import Held
from audit.pixels.contradict import contradiction
from audit.pixels.evidence import FilterShown
from audit.pixels.filters import only_filter
from audit.pixels.hint import corner_hint
from audit.pixels.shrink import RAW
from audit.pixels.sketch import Sketch
from audit.pixels.stacks import Stacks
from audit.pixels.static import corner_mean
from audit.pixels.strength import Strength
from audit.table.columns import PIXELS, filled

OFF_STOPS = 0.5
"""A filter is off from here, if its range does not explain it."""
SURE_STOPS = 0.75
"""Up to this range a strength that fits confirms the declaration."""


class Cells:
    """Values by column and row label; what is not put stays null."""

    def __init__(self) -> None:
        self._values: dict[str, dict[object, Any]] = defaultdict(dict)

    def put(self, label: object, values: Mapping[str, Any]) -> None:
        """Sets cells of one row."""
        for name, value in values.items():
            self._values[name][label] = value

    def put_filters(self, filters: Iterable[FilterShown], held: Mapping[str, Held]) -> None:
        """Sets a filter's strength over the trip in each frame that it was measured in."""
        for shown in filters:
            for frame in shown.frames:
                self.put(
                    held[frame].shot.label, {"filter_stops": shown.stops, "filter_err_stops": shown.err_stops}
                )

    def put_stacks(self, stacks: Stacks) -> None:
        """Sets what a group of compositions shows in each of its frames."""
        results = stacks.results()
        for label, name in stacks.members.items():
            stack = results[name]
            self.put(
                label,
                {
                    "stack": name,
                    "stack_count": stack.count,
                    "stack_loss_stops": stack.stops,
                    "stack_threshold_stops": stack.threshold_stops,
                    "stack_words": stack.words,
                },
            )

    def onto(self, frames: pd.DataFrame) -> pd.DataFrame:
        """The table with every pixel column."""
        return filled(
            frames, {c.name: [self._values[c.name].get(label) for label in frames.index] for c in PIXELS}
        )


def frame_cells(
    row: Mapping[str, Any], sketch: Sketch | None, why: str, curve: Curve, *, even: bool
) -> dict[str, Any]:
    """What one picture shows by itself; `even` that nothing uneven is known to be on."""
    if sketch is None:
        return {"pixel_why": why}
    orientation = row["orientation"]
    turned = None if pd.isna(orientation) else int(orientation)
    shares = {"clipped": thirds(sketch.clipped, turned), "black": thirds(sketch.black, turned)}
    found = {
        "pixel_source": say(
            "{source} {width} x {height}",
            source=sketch.source,
            width=sketch.width_px,
            height=sketch.height_px,
        ),
        "pixel_kind": sketch.source,
        "picture_stops": brightness_stops(sketch, curve),
        "corner_hint": (corner_hint(sketch.grey, curve) or None) if even else None,
    }
    if sketch.source == RAW:
        return found  # a raw file's white is not a JPEG's
    return found | {
        "clipping_basis": marked("full size") if sketch.exact else marked("reduced"),
        **{
            f"{kind}_{third}": s
            for kind, all3 in shares.items()
            for third, s in zip(THIRDS, all3, strict=True)
        },
    }


def held_cells(held: Held, predicted: Prediction | None) -> dict[str, Any]:
    """What a frame shows against its partner."""
    pair, corners, cast = held.pair, held.corners, held.cast
    found: dict[str, Any] = {
        "pair_with": held.partner.frame if held.partner else None,
        "pair_stops": pair.stops,
        "pair_err_stops": pair.err_stops,
        "pair_why": pair.why or None,
        "shown_loss_stops": corners.stops,
        "shown_loss_err_stops": corners.err_stops,
        "shown_loss_threshold_stops": corners.threshold_stops,
        "shown_loss_why": corners.why or None,
        "cast_uv": cast.uv,
        "cast_err_uv": cast.err_uv,
        "cast_mired": cast.mired,
        "cast_words": cast.words or None,
        "cast_why": cast.why or None,
    }
    if predicted is not None and not corners.why:
        band = predicted_corners(predicted)
        found["shown_predicted_min_stops"], found["shown_predicted_max_stops"] = band
        found["contradiction"] = contradiction(held, band) or None
    return found


def predicted_corners(predicted: Prediction) -> tuple[float, float]:
    """Predicted loss over the corners that a pair is measured in, best and worst end of the band."""
    best, worst = (np.minimum(one, BLACK_STOPS) for one in (predicted.best, predicted.worst))
    return corner_mean(best)[0], corner_mean(worst)[0]


def strength_cells(held: Held, strength: Strength | None) -> dict[str, Any]:
    """Strength of what a frame wore."""
    if not held.shot.glasses:
        return {}
    if strength is None:
        return {"strength_why": held.pair.why}
    return {
        "strength_filter": only_filter(held.shot) or None,
        "strength_stops": strength.stops,
        "strength_err_stops": strength.held_err_stops,
        "strength_light_err_stops": strength.err_stops,
        "strength_verdict": None if strength.why else _verdict(held.shot.row, strength),
        "strength_why": strength.why or None,
    }


def _verdict(row: Mapping[str, Any], strength: Strength) -> str | None:
    off = max(row["even_stops_min"] - strength.stops, strength.stops - row["even_stops_max"], 0.0)
    if off > OFF_STOPS and off > strength.err_stops:
        return marked("off")
    return marked("as declared") if off <= OFF_STOPS and strength.err_stops <= SURE_STOPS else None
