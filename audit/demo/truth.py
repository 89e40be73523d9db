"""The truth table of the trip: what was planted, what only looks like it, what the rays say of corners."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from audit.demo.camera import View, corner_losses, corner_map
from audit.demo.gear import LENSES
from audit.demo.schedule import Frame
from audit.demo.story import INNOCENT, PLANTED

UNITS = {
    "loss_stops": "stops lost in the worst corner of the picture as stored; null where it is black",
    "corners": "top left, top right, bottom left, bottom right, stops, null where black",
    "black_fraction": "part of the picture with less than 2 % of the light",
    "cut_fraction": "part of the picture that loses half a stop or more",
    "light_ev100": "light of the scene, EV100",
}


def truth_table(frames: Sequence[Frame], tags: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """The table; `tags` holds the tags of each frame id, those of the plan and those of the files.

    Raises KeyError for a tag without a story.
    """
    holders: dict[str, list[str]] = {}
    for frame_id, words in tags.items():
        for word in words:
            holders.setdefault(word, []).append(frame_id)
    unknown = set(holders) - set(PLANTED) - set(INNOCENT)
    if unknown:
        raise KeyError(f"tags without a story: {sorted(unknown)}")
    planted = [
        {"check": p.check, "level": p.level, "frames": sorted(holders[tag]), "what": p.what}
        for tag, stories in PLANTED.items()
        for p in stories
    ]
    innocent = [
        {"check": i.check, "frames": sorted(holders[tag]), "why": i.why}
        for tag, stories in INNOCENT.items()
        for i in stories
    ]
    corners = {f.id: _corner(f) for f in frames if f.take.odd not in ("torn", "blank")}
    return {"planted": planted, "innocent": innocent, "corners": corners, "units": UNITS}


def view_of(frame: Frame) -> View:
    """Sensor and true bundle of a frame."""
    bundle = LENSES[frame.scene.lens].bundle(frame.scene.focal_mm, frame.f_number)
    return View(frame.body.width_mm, frame.body.height_mm, bundle)


def _corner(frame: Frame) -> dict[str, Any]:
    view, rig = view_of(frame), frame.take.on
    losses = corner_losses(view, rig)
    passed = corner_map(view, rig)
    return {
        "loss_stops": _stops(max(losses)),
        "corners": [_stops(loss) for loss in losses],
        "black_fraction": round(float((passed < 0.02).mean()), 4),
        "cut_fraction": round(float((passed < 2**-0.5).mean()), 4),
        "worn": rig.state,
        "light_ev100": round(frame.light_ev100, 2),
    }


def _stops(loss: float) -> float | None:
    return None if math.isinf(loss) else round(loss, 3) + 0.0
