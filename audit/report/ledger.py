"""All frames of the trip as one table, a line each: what a reader sorts and picks from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from audit.report.days import day_words
from audit.report.facets import Facets, Marks
from audit.report.view_frames import FrameView
from audit.report.words import known, number, text
from audit.say import joined, say


@dataclass(frozen=True)
class LedgerRow:
    """One frame; `light` and `stops` are numbers as text, "" where there is none; `order` sorts by time."""

    anchor: str
    name: str
    level: str
    marks: Marks
    time: str
    order: str
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
    moment = pd.Timestamp(str(at)).strftime("%Y-%m-%d %H:%M") if known(at) else ""
    return LedgerRow(
        anchor=view.anchor,
        name=view.name,
        level=view.level,
        marks=facets.of([view.identity]),
        time=joined([day_words(at), moment[-5:]], " "),
        order=moment,
        lens=_lens(row),
        exposure="" if view.problem else view.exposure,
        worn=view.worn,
        stops=number(float(str(stops)), 1) if known(stops) else "",
        light=number(float(str(light)), 1) if known(light) else "",
        corners=view.corner.verdict if view.corner and view.corner.verdict != "not measurable" else "",
    )


def _lens(row: dict[str, object]) -> str:
    """The lens by its short name, with the focal length."""
    name = text(row["lens_id"]) or text(row["lens"])
    if not known(row["focal_length_mm"]):
        return say("{lens_name}, no focal length", lens_name=name) if name else ""
    focal = say("{focal} mm", focal=number(float(str(row["focal_length_mm"])), 0))
    return say("{lens_name} {focal}", lens_name=name, focal=focal) if name else focal
