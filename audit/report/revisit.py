"""What to go back for: pictures that nothing at the desk saves and another visit could, with what would do.

Never a place: the hour, and the sun's height to the nearest five degrees, are as much as is told.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from audit.checks.corners import LIFT_STOPS
from audit.finding import Finding
from audit.message.figures import number
from audit.message.text import day, joined, marked, say
from audit.report.links import Link
from audit.report.thumbnails import Thumbnail
from audit.report.view_frames import FrameView
from audit.report.words import Stated, known, seconds, text, widest_clear
from audit.result import Result

LEAST_LEFT = 0.5
"""A crop that leaves less of the picture saves another picture: common practice, no source."""
DARKEST_STOPS = 2.0
"""A frame that is darker is not lifted without noise and banding: common practice, no source."""
CLIPPED_SHARE = 0.1
"""So much of a third clipped is not brought back from a frame that is too bright."""
SUN_STEP_DEG = 5
"""A finer height of the sun would tell where the tripod stood."""
CLIPPED = ("clipped_top", "clipped_middle", "clipped_bottom")
JUDGED = frozenset({"exposure-off", "bulb-time"})
"""Checks by which a frame's exposure is known to be off."""

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Revisit:
    """One picture to take again: when, in what light, what was meant, what spoiled it, what would do."""

    link: Link
    picture: Thumbnail
    when: str
    sun: Stated
    meant: str
    spoiled: str
    would_do: Stated


def revisits(result: Result, views: Sequence[FrameView]) -> tuple[Revisit, ...]:
    """One entry for each setup and set of filters of which every frame is spoiled, in order of time.

    `views` are the frames in the table's order. The frame shown is the first of them.
    """
    off = {name for f in result.findings if _tells(f) for name in f.frames}
    meant: dict[tuple[str, ...], list[int]] = {}
    for n, row in enumerate(result.rows):
        if text(row["setup"]) and not known(row["problem"]):
            meant.setdefault((text(row["setup"]), *_filters(row)), []).append(n)
    found = []
    for members in meant.values():
        spoils = [_spoils(result.rows[n], text(result.rows[n]["frame"]) in off) for n in members]
        if all(spoils):
            found.append((result.rows[members[0]], views[members[0]], spoils[0]))
    found.sort(key=lambda one: (pd.isna(one[0]["captured_at"]), str(one[0]["captured_at"])))
    return tuple(_revisit(row, view, spoils) for row, view, spoils in found)


def _tells(finding: Finding) -> bool:
    return finding.check in JUDGED and finding.level in ("act", "look")


def _filters(row: Row) -> tuple[str, ...]:
    return tuple(row["filters"]) if known(row["filters"]) else ()


def _spoils(row: Row, off: bool) -> tuple[str, ...]:
    """What spoils a frame for good: corner, dark, bright; nothing where the desk can help."""
    found = []
    left = row["clean_crop_share"]
    cut = text(row["corner_verdict"]) == "cut" and (not known(left) or left < LEAST_LEFT)
    if cut and (not known(row["corner_loss_stops"]) or row["corner_loss_stops"] > LIFT_STOPS):
        found.append("corner")
    darker = float(row["pair_stops"]) if known(row["pair_stops"]) else 0.0
    if off and darker >= DARKEST_STOPS:
        found.append("dark")
    clipped = max((float(row[c]) for c in CLIPPED if known(row[c])), default=0.0)
    if off and darker < 0 and clipped >= CLIPPED_SHARE:
        found.append("bright")
    return tuple(found)


def _revisit(row: Row, view: FrameView, spoils: tuple[str, ...]) -> Revisit:
    would, sure = [], ""
    if "corner" in spoils and known(row["widest_clear_mm"]):
        ends = (float(row[f"widest_clear_{end}mm"]) for end in ("", "best_", "worst_"))
        would.append(say("{clear} with this rig", clear=widest_clear(*ends)))
        sure = marked("predicted")
    if spoils != ("corner",) and known(row["exposure_time_exact_s"]):
        exact = float(row["exposure_time_exact_s"]) * 2 ** float(row["pair_stops"])
        time = seconds(float(f"{exact:.2g}") if exact >= 1 else exact)
        would.append(say("about {time} at the same f-number and ISO", time=time))
        sure = marked("measured") if not sure else marked("predicted and measured")
    return Revisit(
        Link(view.anchor, view.name),
        view.picture,
        _when(row),
        _sun(row),
        joined([view.lens, view.worn, view.exposure], "; "),
        joined([_spoiled(row, spoil) for spoil in spoils], "; "),
        Stated(joined(would, "; ") or marked("not known: nothing here tells it"), sure),
    )


def _when(row: Row) -> str:
    """Day and hour, no finer."""
    if not known(row["captured_at"]):
        return marked("no time")
    at = pd.Timestamp(row["captured_at"])
    return say("{day}, around {hour} o'clock", day=day(at), hour=at.round("h").hour)


def _sun(row: Row) -> Stated:
    if not known(row["sun_altitude_deg"]):
        why = text(row["sky_source"]) or marked("no place is known")
        return Stated(say("not known: {why}", why=why))
    height = SUN_STEP_DEG * round(float(row["sun_altitude_deg"]) / SUN_STEP_DEG)
    if height < 0:
        return Stated(say("about {height}° below the horizon", height=-height), marked("computed"))
    return Stated(say("about {height}° high", height=height), marked("computed"))


def _spoiled(row: Row, spoil: str) -> str:
    if spoil == "corner":
        return marked("the corners are cut, and no crop leaves half of the picture")
    amount = number(abs(float(row["pair_stops"])), 1)
    if spoil == "dark":
        return say("{amount} stops too dark to be lifted", amount=amount)
    return say("{amount} stops too bright, with clipped parts", amount=amount)
