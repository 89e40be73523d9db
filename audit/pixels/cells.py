"""From measurements to the cells of the pixel columns."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from audit.corners.prediction import BLACK_STOPS, Prediction
from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.compare import BareComparison
from audit.pixels.evidence import FilterShown
from audit.pixels.filters import only_filter
from audit.pixels.overview import THIRDS, brightness_stops, thirds
from audit.pixels.shrink import RAW
from audit.pixels.sketch import Codes, Sketch
from audit.pixels.stack import Stacks
from audit.pixels.static import corner_mean
from audit.pixels.strength import MeasuredStrength
from audit.table.columns import PIXELS, filled

BOX, AWAY = 0.06, 0.12
"""Side of the fields that are compared, and how far apart they lie, of the picture's width and height."""
THRESHOLD_STOPS = 0.6
"""Of 1,860 windows cut out of 93 open photographs without a rig 0.1 % lie above; of the same with 2 stops
lost in the extreme corner, smooth from 0.82 of the half diagonal on, 85 % do, with 1 stop half. Limit and
rule were chosen on them (`benchmarks/corner_pixels.py` counts whole photographs and painted scenes).
"""


def corner_hint(grey: Codes, curve: Curve = GENERAL) -> str:
    """A hint in words, or an empty text. Luma codes (rows, columns)."""
    dark = corner_darkness(grey, curve)
    if not dark > THRESHOLD_STOPS:
        return ""
    return say(
        "the corners are about {stops:.1f} stops darker than what lies beside them: perhaps a ring or a "
        "holder, perhaps only what the picture shows there",
        stops=dark,
    )


def corner_darkness(grey: Codes, curve: Curve = GENERAL) -> float:
    """Stops by which the corners are darker than the median of the three fields beside each: the mean of the
    two that are so least.

    A field that is white counts as the brightest code known, black as the darkest; NaN never.
    """
    light = light_stops(np.clip(grey, DARKEST, BRIGHTEST), curve)
    turned = (light, light[:, ::-1], light[::-1], light[::-1, ::-1])
    return float(np.mean(sorted(_first_corner(one) for one in turned)[:2]))


def _first_corner(light: Floats) -> float:
    rows, columns = light.shape
    high, wide = max(1, round(BOX * rows)), max(1, round(BOX * columns))
    below, beside = round(AWAY * rows), round(AWAY * columns)
    corner, *others = (
        float(np.median(light[y : y + high, x : x + wide])) for y in (0, below) for x in (0, beside)
    )
    return float(np.median(others)) - corner


MARGIN_STOPS = 0.15
"""Left to the model of the corner beside its own band: region medians of measured and predicted maps."""

DEEPEST_TOLD_STOPS = 2.0
"""Beyond, a picture's blacks end before the loss does: what it shows is the least."""


def contradiction(held: BareComparison, predicted: tuple[float, float]) -> str:
    """In words, or an empty text; `predicted` is the loss over the same corners, best and worst end."""
    corners, partner = held.corners, held.partner
    if corners.why or partner is None:
        return ""
    low, high = min(predicted[0], DEEPEST_TOLD_STOPS), predicted[1]
    least, most = corners.stops - corners.err_stops, corners.stops + corners.err_stops
    shown = {"loss": max(corners.stops, 0.0), "err": corners.err_stops}
    if held.shot.is_bare:
        if not corners.seen:
            return ""
        return say(
            "declared bare, but its corners are {loss:.2f} ± {err:.2f} stops darker than those of "
            "{other_frame}, declared bare too: a ring or a holder was still on",
            other_frame=partner.frame,
            **shown,
        )
    if corners.seen and least > high + MARGIN_STOPS:
        return say(
            "the corners lack {loss:.2f} ± {err:.2f} stops, predicted {predicted:.1f} at most: something "
            "more was in front than is declared, or the entrance pupil lies deeper than the kit says",
            predicted=high,
            **shown,
        )
    if most < low - MARGIN_STOPS and low > corners.threshold_stops:
        return say(
            "the corners lack {loss:.2f} ± {err:.2f} stops, predicted {predicted:.1f} at least: the rig "
            "was not on, or its ring is lower or wider than the kit says",
            predicted=predicted[0],
            **shown,
        )
    return ""


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

    def put_filters(self, filters: Iterable[FilterShown], held: Mapping[str, BareComparison]) -> None:
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


def held_cells(held: BareComparison, predicted: Prediction | None) -> dict[str, Any]:
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


def strength_cells(held: BareComparison, strength: MeasuredStrength | None) -> dict[str, Any]:
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


def _verdict(row: Mapping[str, Any], strength: MeasuredStrength) -> str | None:
    off = max(row["even_stops_min"] - strength.stops, strength.stops - row["even_stops_max"], 0.0)
    if off > OFF_STOPS and off > strength.err_stops:
        return marked("off")
    return marked("as declared") if off <= OFF_STOPS and strength.err_stops <= SURE_STOPS else None
