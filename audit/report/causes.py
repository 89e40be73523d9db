"""The front page's ledger: what to act on, one line a cause, and how many of its frames can be saved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.message.text import marked, plural, say
from audit.report.links import Link
from audit.report.view_findings import FindingRow, Group
from audit.report.words import known, span, text
from audit.table.columns import records

FRAMES_SHOWN = 6
"""Frames linked in a line; the finding itself has them all."""


CROP = ["clean_crop_share", "clean_crop_worst_share"]

PREDICTED = frozenset({"corners", "corner-rules"})
"""Checks that the clean crop bears on: it is that of the declared rig, which the others doubt."""


@dataclass(frozen=True)
class Cause:
    """One line: what it is, in how many frames, what can be saved, what to do, where it is told in full."""

    anchor: str
    level: str
    title: str
    cause: str
    by: str
    count: str
    saved: str
    advice: str
    names: tuple[str, ...]
    frames: tuple[Link, ...]
    more: int


def causes(groups: Iterable[Group], frames: pd.DataFrame) -> tuple[Cause, ...]:
    """Lines of some groups in their order."""
    crops = {text(r["frame"]): r for r in records(frames, ("frame", *CROP))}
    return tuple(_cause(group, row, crops, n == 0) for group in groups for n, row in enumerate(group.rows))


def _cause(group: Group, row: FindingRow, crops: Mapping[str, Mapping[Any, Any]], first: bool) -> Cause:
    to = (*row.links, *row.more)
    return Cause(
        anchor=row.anchor,
        level=group.level,
        title=group.title,
        cause=row.cause or row.seen,
        by=row.by,
        count=plural(len(row.frames), "{n} frame", "{n} frames"),
        saved=_saved([crops[n] for n in row.frames if n in crops]) if group.check in PREDICTED else "",
        advice=row.advice or (group.advice if first else marked("As above.")),
        names=row.frames,
        frames=to[:FRAMES_SHOWN],
        more=max(len(to) - FRAMES_SHOWN, 0),
    )


def _saved(rows: list[Mapping[Any, Any]]) -> str:
    """How many frames a crop saves and what it takes away, by the middle of the band and at its worst end."""
    usable = [row for row in rows if known(row["clean_crop_share"]) and row["clean_crop_share"] > 0]
    if not usable:
        return marked("none by a crop") if rows else ""
    away = [100 * (1 - float(row["clean_crop_share"])) for row in usable]
    worst = [
        100 * (1 - float(r["clean_crop_worst_share"])) for r in usable if known(r["clean_crop_worst_share"])
    ]
    told = {"count": len(usable), "all": len(rows)}
    if not max(away) and len(worst) == len(usable):
        return say(
            "{count} of {all} without a crop, at worst by one that takes {taken:.0f} %",
            taken=max(worst),
            **told,
        )
    at_worst = _at_worst(worst, len(usable))
    if not max(away):
        return say("{count} of {all} without a crop ({at_worst})", at_worst=at_worst, **told)
    return say(
        "{count} of {all} by a crop that takes {share} % of the area ({at_worst})",
        share=span(min(away), max(away), 0),
        at_worst=at_worst,
        **told,
    )


def _at_worst(worst: list[float], count: int) -> str:
    """What the worst end of the band takes away of `count` frames, of which `worst` have a crop there."""
    if not worst:
        return marked("none is at worst")
    if len(worst) < count:
        return marked("not each of them at worst")
    return say("{share:.0f} % at worst", share=max(worst))
