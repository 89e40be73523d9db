"""Strength of filters: sightings of each scene fitted together, pooled over the trip for each filter."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

import numpy as np

from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.text import marked
from audit.pixels.compare import BareComparison
from audit.pixels.evidence import FilterShown
from audit.pixels.shots import Shot
from audit.pixels.strength import MeasuredStrength, Sighting, pooled, strengths

NONE = float("nan")
ANOTHER_STOPS = 1.5
"""So far from most other scenes it was not this filter."""


def scene_strengths(held: Iterable[BareComparison]) -> dict[str, MeasuredStrength]:
    """Strength of what was worn, by frame, from all frames of a scene that were held against a clear one.

    Frames held against the same partner share one fit, so that clear frames before and after tell the drift.
    """
    found: dict[str, MeasuredStrength] = {}
    groups: dict[str, list[BareComparison]] = defaultdict(list)
    for one in held:
        if one.partner is not None and one.measured and one.shot.uneven != "grad":
            groups[one.partner.frame].append(one)
    for members in groups.values():
        partner = members[0].partner
        assert partner is not None
        sightings = [_sighting(partner, partner, 0.0, 0.0), *(_of(one) for one in members)]
        fitted = strengths(sightings)
        for one in members:
            name = _worn(one.shot)
            if name in fitted:
                found[one.shot.frame] = fitted[name]
    return found


def _of(held: BareComparison) -> Sighting:
    assert held.partner is not None
    return _sighting(held.shot, held.partner, -held.pair.stops, held.pair.err_stops)


def _sighting(shot: Shot, partner: Shot, picture_stops: float, err_stops: float) -> Sighting:
    return Sighting(
        frame=shot.frame,
        minute=shot.minute,
        # A stamp may be the end of the exposure instead of its start.
        minute_err=shot.exposure_s / 60,
        ev100=shot.ev100 - shot.sky_change(partner),
        ev_err=shot.ev_err(partner),
        picture_stops=picture_stops,
        picture_err_stops=err_stops,
        worn=_worn(shot),
    )


def _worn(shot: Shot) -> str:
    """Identity of what was on; a polariser takes another loss at each turn, so each frame is its own."""
    return "+".join(shot.glasses) + (f"@{shot.frame}" if shot.uneven == "polariser" else "")


def only_filter(shot: Shot) -> str:
    """The one filter that was on, or an empty text."""
    return shot.glasses[0] if len(shot.glasses) == 1 else ""


def shown_filters(
    kit: Kit,
    held: Mapping[str, BareComparison],
    strength: Mapping[str, MeasuredStrength],
    scenes: Mapping[str, str],
) -> tuple[FilterShown, ...]:
    """Each filter of the kit that takes light, pooled over the trip. All maps are by frame."""
    parts: list[Filter | ScrewIn] = [*kit.filters, *(s for s in kit.screw_ins if s.loss_stops[1] > 0)]
    return tuple(_shown(part, held, strength, scenes) for part in parts)


def _shown(
    part: Filter | ScrewIn,
    held: Mapping[str, BareComparison],
    strength: Mapping[str, MeasuredStrength],
    scenes: Mapping[str, str],
) -> FilterShown:
    alone = {name: one for name, one in held.items() if only_filter(one.shot) == part.id}
    frames = _of_one_glass({n: strength[n] for n in alone if n in strength and not strength[n].why})
    why = _why_not(part, alone, frames)
    by_scene: dict[str, MeasuredStrength] = {}
    for name in frames:
        by_scene.setdefault(f"{scenes[name]} {strength[name].stops!r}", strength[name])
    trip = pooled(list(by_scene.values())) if not why else None
    values = [strength[name].stops for name in frames]
    casts = [one.cast for one in alone.values()]
    seen = [cast for cast in casts if not cast.why]
    middle = min(seen, key=lambda c: abs(c.uv - float(np.median([s.uv for s in seen])))) if seen else None
    return FilterShown(
        filter=part.id,
        declared_stops=part.loss_stops,
        stops=trip.stops if trip else NONE,
        err_stops=trip.err_stops if trip else NONE,
        held_err_stops=trip.held_err_stops if trip else NONE,
        spread_stops=float(np.std(values, ddof=1)) if len(values) > 1 else NONE,
        range_stops=(min(values), max(values)) if values else (NONE, NONE),
        pairs=len(frames),
        scenes=len({scenes[name] for name in frames}),
        frames=frames,
        why=why,
        cast_uv=middle.uv if middle else NONE,
        cast_err_uv=middle.err_uv if middle else NONE,
        cast_mired=middle.mired if middle else NONE,
        cast_words=middle.words if middle else "",
        cast_why="" if middle else next((cast.why for cast in casts if cast.why), marked("never worn alone")),
    )


def _of_one_glass(found: Mapping[str, MeasuredStrength]) -> tuple[str, ...]:
    """The frames that show one strength; what most of them contradict was another glass, or none."""
    if not found:
        return ()
    middle = float(np.median([one.stops for one in found.values()]))

    def agrees(one: MeasuredStrength) -> bool:
        return abs(one.stops - middle) <= max(ANOTHER_STOPS, one.err_stops)

    return tuple(sorted(name for name, one in found.items() if agrees(one)))


def _why_not(part: Filter | ScrewIn, alone: Mapping[str, BareComparison], frames: tuple[str, ...]) -> str:
    if frames:
        return ""
    if part.is_grad:
        return marked("a grad covers part of the frame")
    if not alone:
        return marked("never worn alone in a frame that can be compared")
    return next((one.pair.why for one in alone.values() if one.pair.why), marked("the scene does not tell"))
