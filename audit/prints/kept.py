"""Which frames are worth a print: those the photographer chose, else the best of each setup, and why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import inf, isinf, nan
from statistics import median
from typing import Any

import numpy as np
import pandas as pd

from audit.message.text import joined, marked, say
from audit.prints.choose import PROPOSED, Chosen
from audit.prints.print_set import BRACKET, PANORAMA, STACK, grouped
from audit.table.columns import filled, records

Row = Mapping[str, Any]

CLIPPED_SHARE = 0.10
"""A third of the picture with so many clipped pixels counts as clipped (common practice, no source)."""
UNKNOWN_LOSS_STOPS = 0.45
"""Corners of which nothing is known rank behind a small loss and before half a stop, which counts as cut."""
HINTED_LOSS_STOPS = 0.5
"""Dark corners that a picture hints at without a bare frame beside it."""
ASIDE = ("trial", "marker")
"""Sequences that are no pictures: proposed only where a setup has nothing else."""
_STEP_STOPS = 0.1
"""Smaller differences do not decide."""


@dataclass(frozen=True)
class Candidate:
    """A frame, or a set by the frame that stands for it."""

    row: Row
    kind: str
    count: int
    clipped: bool | None
    loss_stops: float
    off_stops: float = nan

    @property
    def rank(self) -> tuple[float, ...]:
        """The least is the best."""
        clipped = 1 if self.clipped is None else 2 * self.clipped
        loss = UNKNOWN_LOSS_STOPS if np.isnan(self.loss_stops) else self.loss_stops
        off = inf if np.isnan(self.off_stops) else round(self.off_stops / _STEP_STOPS)
        return self.row["sequence"] in ASIDE, clipped, loss if isinf(loss) else round(loss, 1), off


def add_kept(frames: pd.DataFrame, chosen: Chosen) -> pd.DataFrame:
    """Fills `kept` and `kept_why`: what was chosen, else one proposal for each setup.

    Members of a bracket, panorama or focus stack count once; unreadable and rejected frames are not proposed,
    nor are frames without a setup.
    """
    kept = chosen.kept or {name: (PROPOSED, why) for name, why in _proposals(frames, chosen.rejected)}
    told = [kept.get(name, (None, None)) for name in frames["frame"]]
    return filled(frames, {"kept": [how for how, _ in told], "kept_why": [why for _, why in told]})


def _proposals(frames: pd.DataFrame, rejected: frozenset[str]) -> Iterator[tuple[str, str]]:
    usable = frames[frames["problem"].isna() & frames["setup"].notna() & ~frames["frame"].isin(rejected)]
    order = usable.sort_values(["captured_at", "counter", "frame"], kind="stable")
    setups: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in records(order, _USED):
        setups[row["setup"]].append(row)
    for setup in setups.values():
        candidates = _candidates(setup)
        best = min(candidates, key=lambda c: c.rank)  # the first of equals
        yield str(best.row["frame"]), _why(best, len(candidates))


_THIRDS = ("clipped_top", "clipped_middle", "clipped_bottom")
_LIGHT = ("light_min_ev100", "light_max_ev100")
_USED = [
    *("frame", "setup", "stitched", "declared_in", "sequence", "sequence_of", "bracket"),
    *("ev100", "picture_stops", "corner_loss_stops", *_THIRDS, *_LIGHT),
    *("shown_loss_stops", "shown_loss_threshold_stops", "corner_hint"),
]


def _candidates(rows: list[dict[str, Any]]) -> list[Candidate]:
    found = [_candidate(kind, members) for (kind, _), members in grouped(rows).items()]
    bright = _brightness([c.row for c in found])
    middle = median(bright) if bright else nan
    return [
        Candidate(c.row, c.kind, c.count, c.clipped, c.loss_stops, abs(b - middle))
        for c, b in zip(found, bright or [nan] * len(found), strict=True)
    ]


def _candidate(kind: str, members: list[Row]) -> Candidate:
    """The middle exposure stands for a bracket, the first frame for any other set."""
    row = members[0]
    if kind == BRACKET:
        row = sorted(members, key=lambda r: float(r["ev100"]))[len(members) // 2]
    shares = [float(row[name]) for name in _THIRDS]
    clipped = None if any(np.isnan(shares)) else max(shares) >= CLIPPED_SHARE
    return Candidate(row, kind, len(members), clipped, _loss(row))


def _loss(row: Row) -> float:
    """Corner loss in stops: predicted, or more where the pictures show more; a dark hint counts as cut."""
    losses = [float(row["corner_loss_stops"])]
    shown = float(row["shown_loss_stops"])
    if shown >= float(row["shown_loss_threshold_stops"]):
        losses.append(shown)
    if isinstance(row["corner_hint"], str):
        losses.append(HINTED_LOSS_STOPS)
    known = [loss for loss in losses if not np.isnan(loss)]
    return max(known, default=nan)


def _brightness(rows: list[Row]) -> list[float]:
    """Of the first kind that all have: brightness as shown, the light implied, or the exposure value."""
    for values in (
        [float(row["picture_stops"]) for row in rows],
        [sum(float(row[name]) for name in _LIGHT) / 2 for row in rows],
        [float(row["ev100"]) for row in rows],
    ):
        if np.isfinite(values).all():
            return values
    return []


_STANDS = {
    PANORAMA: marked("stands for a panorama of {count} frames"),
    BRACKET: marked("stands for a bracket of {count} frames"),
    STACK: marked("stands for a focus stack of {count} frames"),
}


def _why(best: Candidate, count: int) -> str:
    stands = say(_STANDS[best.kind], count=best.count) if best.count > 1 else ""
    if count == 1:
        return joined([marked("the only picture of its setup"), stands], ", ")
    reasons = [_clipped_words(best), _loss_words(best.loss_stops)]
    if best.off_stops < _STEP_STOPS / 2:
        reasons.append(marked("exposed as the setup's middle"))
    elif not np.isnan(best.off_stops):
        reasons.append(say("exposed {stops:.1f} stops from the setup's middle", stops=best.off_stops))
    words = say(
        "best of {count} pictures of its setup: {reasons}", count=count, reasons=joined(reasons, ", ")
    )
    return joined([words, stands])


def _clipped_words(best: Candidate) -> str:
    if best.clipped is None:
        return marked("clipping not measured")
    return marked("clipped") if best.clipped else marked("not clipped")


def _loss_words(loss_stops: float) -> str:
    if np.isnan(loss_stops):
        return marked("corners not predicted")
    if isinf(loss_stops):
        return marked("black in the corner")
    if loss_stops < _STEP_STOPS / 2:
        return marked("corners clear")
    return say("{loss:.1f} stops lost in the corner", loss=loss_stops)
