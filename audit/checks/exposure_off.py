"""The picture itself comes out far darker or brighter than the frame without filters of the same scene.

A filter that was left out of the sum costs exactly its own stops: the shutter stayed where it was. Wanted
differences are left out: compensation, brackets, and a frame that is darker than an overexposed one.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._elsewhere import by_hand, told_elsewhere
from audit.checks._words import names, pairs, span, stops
from audit.finding import Finding
from audit.message.text import marked, say

ID = "exposure-off"
TITLE = "Picture far too dark or too bright"
THRESHOLD = (
    "1.5 stops darker or brighter than the frame without filters, 0.1 stop more for each minute between the "
    "two and a grad's stops where one is on, beyond compensation; act where it is the declared stops within "
    "0.7, the frame without filters being neither clipped (a tenth of a third) nor black (a quarter)"
)
SOURCE = (
    "measured in pairs of pictures (see docs/pixels.md); what counts as too far, drift of daylight: common "
    "practice, no source"
)
ADVICE = (
    "Take the frame again while the scene is there. Later: the raw file may hold a dark frame, hardly a "
    "bright one. A silhouette or a high key that was meant needs nothing."
)
NEEDS = ("pair_stops", "pair_err_stops", "pair_with", "exposure_bias_stops", "sequence")
MAY_LACK = ("exposure_bias_stops",)
FAR_STOPS, DRIFT_STOPS_PER_MIN, SAME_STOPS = 1.5, 0.1, 0.7
CLIPPED, BLACK = 0.10, 0.25
APART = ("trial", "marker", "panorama")
"""Sequences whose frames are not judged alone: tries, labels, parts of a larger picture."""
THIRDS = ("top", "middle", "bottom")


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    single = frames["bracket"].isna() & ~frames["sequence"].isin(APART)
    judged = frames[frames["pair_stops"].notna() & single & ~told_elsewhere(frames)]
    judged = _against(judged, frames.set_index("frame").reindex(judged["pair_with"]).set_index(judged.index))
    off = judged[(judged["size"] > judged["limit"]) & (judged["size"] > judged["pair_err_stops"])]
    off = off[~(off["other_spoilt"] & ~off["own_stops"]) & ~off["other_is_worse"]]
    off = off.assign(act=off["own_stops"] & ~off["other_spoilt"])
    for (_, _, darker, act), part in off.groupby(["scene", "rig", "darker", "act"], sort=True, dropna=False):
        yield _finding(part, bool(darker), bool(act))


def _against(judged: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """How far each frame is off against the one it was held against, and what speaks for it."""
    darker = judged["pair_stops"] > 0
    beyond = judged["pair_stops"] - (_wanted(other) - _wanted(judged))
    same_side = (beyond > 0) == darker
    size = pd.concat([beyond.abs(), judged["pair_stops"].abs()], axis=1).min(axis=1).where(same_side, 0.0)
    minutes = (judged["captured_at"] - other["captured_at"]).dt.total_seconds().abs().fillna(0.0) / 60
    clear = judged["even_stops_max"].fillna(0) + judged["grad_stops"].fillna(0) == 0
    own, others = _spoilt(judged), _spoilt(other)
    above = judged["even_stops_min"] - SAME_STOPS <= size
    return judged.assign(
        darker=darker,
        size=size,
        limit=FAR_STOPS + DRIFT_STOPS_PER_MIN * minutes + judged["grad_stops"].fillna(0),
        own_stops=above & (size <= judged["even_stops_max"] + SAME_STOPS) & (judged["even_stops_min"] > 0),
        other_spoilt=((others["clipped"] >= CLIPPED) & darker) | ((others["black"] >= BLACK) & ~darker),
        # Two frames without filters are told once, at the one that lost more.
        other_is_worse=clear & ((others["lost"] > own["lost"]) | ((others["lost"] == own["lost"]) & ~darker)),
    )


def _wanted(frames: pd.DataFrame) -> pd.Series:
    """Stops brighter than metered that were asked for."""
    bias: pd.Series = frames["exposure_bias_stops"].fillna(0.0).where(~by_hand(frames), 0.0)
    return bias


def _spoilt(frames: pd.DataFrame) -> pd.DataFrame:
    """Largest share of a third that is clipped, that is black, and all that is lost."""
    clipped, black = (frames[[f"{kind}_{third}" for third in THIRDS]] for kind in ("clipped", "black"))
    lost = clipped.fillna(0).sum(axis=1) + black.fillna(0).sum(axis=1)
    return pd.DataFrame({"clipped": clipped.max(axis=1), "black": black.max(axis=1), "lost": lost})


def _finding(part: pd.DataFrame, darker: bool, act: bool) -> Finding:
    first, size = part.iloc[0], stops(float(part["pair_stops"].abs().median()))
    other = first["pair_with"]
    return Finding(
        ID,
        "act" if act else "look",
        names(part),
        seen=say("{size} darker than {other_frame}, taken without filters", size=size, other_frame=other)
        if darker
        else say("{size} brighter than {other_frame}, taken without filters", size=size, other_frame=other),
        expected=marked("as bright as the frame without filters, but for compensation"),
        sure=pairs(len(part)),
        advice=ADVICE,
        by=say(
            "{size} ± {error:.1f} stops",
            size=span(part["pair_stops"].abs().round(1)),
            error=part["pair_err_stops"].max(),
        ),
        cause=_cause(first, darker) if act else "",
    )


def _cause(first: pd.Series, darker: bool) -> str:
    rig, summed = first["rig_words"], first["stops_words"]
    if darker:
        return say("{rig}, {sum}: the filter was left out of the sum", rig=rig, sum=summed)
    return say("{rig}, {sum}: the filter was counted twice", rig=rig, sum=summed)
