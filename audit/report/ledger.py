"""All frames of the trip as one table, a line each: what a reader sorts and picks from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.corners.leaning import SHARES, Leaning
from audit.message.figures import number
from audit.message.text import joined, say
from audit.report.days import day_words
from audit.report.facets import FOUND, VERDICTS, Facets, Marks
from audit.report.thumbnails import Thumbnail
from audit.report.view_frames import FrameView
from audit.report.words import known, span, text
from audit.table.columns import records


@dataclass(frozen=True)
class LedgerRow:
    """One frame as text, "" where a thing is not known.

    `order` sorts by time, and each `..._order` its column: worst finding first, seconds, stops, and how bad
    the corners are.
    """

    anchor: str
    name: str
    picture: Thumbnail
    level: str
    level_order: str
    marks: Marks
    time: str
    order: str
    lens: str
    exposure: str
    exposure_order: str
    worn: str
    stops: str
    stops_order: str
    light: str
    corners: str
    corners_order: str


def ledger(frames: pd.DataFrame, views: Sequence[FrameView], facets: Facets) -> tuple[LedgerRow, ...]:
    """Lines in order of time, frames without one last."""
    order = frames["captured_at"].reset_index(drop=True).sort_values(kind="stable", na_position="last").index
    rows = records(frames, _USED)
    return tuple(_row(rows[n], views[n], facets) for n in order)


MOST_LOSS_STOPS = 20.0
"""More is black all the same."""

_USED = (
    *("captured_at", "ev100", "exposure_time_s", "lens_id", "lens", "focal_length_mm"),
    *("even_stops_min", "even_stops_max", "grad_stops", "corner_loss_stops"),
    *SHARES,
)


def _row(row: Mapping[str, Any], view: FrameView, facets: Facets) -> LedgerRow:
    at, light, most = row["captured_at"], row["ev100"], row["even_stops_max"]
    verdict = view.corner.verdict if view.corner else ""
    moment = pd.Timestamp(at).isoformat(" ", "minutes") if known(at) else ""
    return LedgerRow(
        anchor=view.anchor,
        name=view.name,
        picture=view.picture,
        level=view.level,
        level_order=str(list(FOUND).index(view.level)) if view.level else "",
        marks=facets.of([view.identity], view.level),
        time=joined([day_words(at), moment[-5:]], " "),
        order=moment,
        lens=_lens(row),
        exposure="" if view.problem else view.exposure,
        exposure_order=f"{row['exposure_time_s']:.4g}" if known(row["exposure_time_s"]) else "",
        worn=view.worn,
        stops=_stops(row) if known(most) else "",
        stops_order=f"{most:g}" if known(most) else "",
        light=number(light, 1) if known(light) else "",
        corners=_corners(view, verdict) if verdict in VERDICTS else "",
        corners_order=_how_bad(row, verdict) if verdict in VERDICTS else "",
    )


def _corners(view: FrameView, verdict: str) -> str:
    """The verdict, and which way it leans."""
    leans = view.corner.leans if view.corner else None
    return say("{verdict}, {leaning}", verdict=verdict, leaning=leans.words) if leans else verdict


def _how_bad(row: Mapping[str, Any], verdict: str) -> str:
    """0 clear, 2 cut, and between by which way it leans; of one verdict by the loss that is predicted."""
    leaning, loss = Leaning.of(row), row["corner_loss_stops"]
    if verdict != "at risk" or leaning is None:
        lost = min(loss, MOST_LOSS_STOPS) if known(loss) else 0.0
        return f"{VERDICTS.index(verdict) + 0.4 * lost / MOST_LOSS_STOPS:.3f}"
    return f"{1 + 0.45 * (leaning.cut_share - leaning.clear_share):.2f}"


def _stops(row: Mapping[str, Any]) -> str:
    """What was worn costs over the whole frame, from least to most, and what a gradient takes besides."""
    even = span(row["even_stops_min"], row["even_stops_max"], 1)
    grad = row["grad_stops"]
    if not known(grad) or not grad:
        return even
    return say("{even} (+{grad})", even=even, grad=number(grad, 1))


def _lens(row: Mapping[str, Any]) -> str:
    """The lens by its short name, with the focal length."""
    name = text(row["lens_id"]) or text(row["lens"])
    if not known(row["focal_length_mm"]):
        return say("{lens_name}, no focal length", lens_name=name) if name else ""
    focal = say("{focal} mm", focal=number(row["focal_length_mm"], 0))
    return say("{lens_name} {focal}", lens_name=name, focal=focal) if name else focal
