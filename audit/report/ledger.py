"""All frames of the trip as one table, a line each: what a reader sorts and picks from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from audit.report.days import day_of
from audit.report.facets import Facets, Marks
from audit.report.view_frames import FrameView
from audit.report.words import known, number, text


@dataclass(frozen=True)
class LedgerRow:
    """One frame; `light` and `stops` are numbers as text, "" where there is none."""

    anchor: str
    name: str
    level: str
    marks: Marks
    time: str
    lens: str
    exposure: str
    worn: str
    stops: str
    light: str
    corners: str


def ledger(frames: pd.DataFrame, views: Sequence[FrameView], facets: Facets) -> tuple[LedgerRow, ...]:
    """Lines in order of time, frames without one last."""
    order = frames["captured_at"].reset_index(drop=True).sort_values(kind="stable", na_position="last").index
    records = frames.to_dict("records")
    return tuple(_row(records[n], views[n], facets) for n in order)


def _row(row: dict[str, object], view: FrameView, facets: Facets) -> LedgerRow:
    at, light, stops = row["captured_at"], row["ev100"], row["even_stops_max"]
    focal = f" {number(float(str(row['focal_length_mm'])), 0)} mm" if known(row["focal_length_mm"]) else ""
    return LedgerRow(
        anchor=view.anchor,
        name=view.name,
        level=view.level,
        marks=facets.of([view.identity]),
        time=f"{day_of(at)} {pd.Timestamp(str(at)).strftime('%H:%M')}" if known(at) else "",
        lens=f"{text(row['lens_id']) or text(row['lens'])}{focal}".strip(),
        exposure="" if view.problem else view.exposure,
        worn=view.worn,
        stops=number(float(str(stops)), 1) if known(stops) else "",
        light=number(float(str(light)), 1) if known(light) else "",
        corners=view.corner.verdict if view.corner and view.corner.verdict != "not measurable" else "",
    )
