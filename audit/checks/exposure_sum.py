"""A wrong declaration shows against the frames before and after: the light steps by the filter's stops.

Exposure and declared filters together say how bright the scene was. A filter that was declared but not on,
or on and not declared, puts a run of frames off by its stops, and the next run lies where the one before
did. Clouds, dusk and another framing move the light as well: so the check speaks only where the exposures,
read without the declarations, say the same.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import few, names, stops
from audit.checks.too_bright import beyond
from audit.finding import Finding
from audit.message.text import joined, marked, plural, say

ID = "exposure-sum"
TITLE = "Exposure does not fit the declared filters"
THRESHOLD = (
    "a run of frames of one setup and rig against up to three runs before and three after it, within 20 min "
    "on the same body; in stops times the usual scatter of such runs on this trip (1 to 2): 2.8 off, or 1.5 "
    "where the estimate made without the declarations is at least likely; it must tell 1.9 stops or more "
    "the same way. Act from 3 where it is likely, from 3.5 where it tells as many stops, else from 4.5, and "
    "only where filters of the kit explain it. Sets, and frames within 12 s, count once; silent for a bare "
    "frame that would have had less on, and where too-bright, unit-slip or the pictures tell"
)
SOURCE = (
    "chosen on simulated trips (docs/world.md); that nobody changes a filter within 12 s: common practice, "
    "no source"
)
ADVICE = (
    "Compare the frames: was the filter really in, or forgotten in the holder? Correct the declaration, or "
    "mark the frames as unknown."
)
NEEDS = (
    "neighbour_off_stops",
    "neighbour_spread_stops",
    "neighbour_light_ev100",
    "other_stops",
    "unit_slip",
    "strength_verdict",
    "estimated_independent_stops",
    "estimated_independent_sure",
)
MAY_LACK = ("other_stops",)
LOOK, LOOK_LIKELY, ACT_LIKELY, ACT_SAME, ACT = 2.8, 1.5, 3.0, 3.5, 4.5
"""In stops, times the trip's scatter: chosen on the tuning half of benchmarks/world."""
ANOTHER_STOPS = 1.9
"""From here on an estimate tells another filter than the declared."""
SAME_STOPS, SAME_SHARE = 1.5, 0.3
"""So near, or by this share of it, estimate and neighbours say as many stops."""
USED = (
    *("frame", "setup", "rig", "rig_words", "stops_words", "neighbour_off_stops", "neighbour_spread_stops"),
    *("neighbour_light_ev100", "neighbour_frames", "other_stops", "other_filters"),
)


def levels(frames: pd.DataFrame) -> pd.Series:
    """The level at which each frame is reported: act, look, or an empty text."""
    off = frames["neighbour_off_stops"]
    size = off.abs() / frames["neighbour_spread_stops"]
    # What the exposures tell without the declaration: more (+) or less (-) than declared.
    more = frames["estimated_independent_stops"] - frames["neutral_stops"]
    agrees = (more.abs() >= ANOTHER_STOPS) & (more * off < 0)
    likely = agrees & frames["estimated_independent_sure"].isin(["likely", "sure"])
    same = agrees & ((more + off).abs() <= (SAME_SHARE * off.abs()).clip(lower=SAME_STOPS))
    look = (agrees & (size > LOOK)) | (likely & (size > LOOK_LIKELY))
    act = (likely & (size > ACT_LIKELY)) | (same & (size > ACT_SAME)) | (agrees & (size > ACT))
    # Runs that only the exposure tells apart may be a set by hand.
    act &= frames["other_stops"].notna() & ~frames["neighbour_alike"].fillna(False).astype(bool)
    # Less than nothing can't have been on. Where the pictures tell the strength, they are the better witness.
    possible = ~((frames["declaration"] == "bare") & (off > 0))
    told = frames["unit_slip"].notna() | frames["strength_verdict"].notna()
    told |= beyond(frames)["stops"] > 0
    level = pd.Series("", index=frames.index, dtype="str")
    level[look & possible & ~told] = "look"
    level[act & possible & ~told] = "act"
    return level


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    off = frames[[*USED]].assign(level=levels(frames), over=frames["neighbour_off_stops"] > 0)
    lights = _lights(frames)
    for _, part in off[off["level"] != ""].groupby(["setup", "rig", "over"], sort=True, dropna=False):
        yield _finding(part, lights)


def _lights(frames: pd.DataFrame) -> dict[str, float]:
    """By frame, the light that exposure and declared filters imply, the middle of its range."""
    middle = (frames["light_min_ev100"] + frames["light_max_ev100"]) / 2
    return dict(zip(frames["frame"], middle, strict=True))


def _finding(part: pd.DataFrame, lights: dict[str, float]) -> Finding:
    first = part.sort_values("neighbour_off_stops", key=abs, kind="stable").iloc[-1]
    beside = [*first["neighbour_frames"]]
    size, over = stops(abs(float(first["neighbour_off_stops"]))), bool(first["over"])
    count = len(beside)
    return Finding(
        ID,
        "act" if (part["level"] == "act").any() else "look",
        names(part),
        seen=_seen(size, over, count),
        expected=say(
            "declared {sum}; light about EV100 {light:.1f}, by {shown_frames}",
            sum=first["stops_words"],
            light=first["neighbour_light_ev100"],
            shown_frames=few(beside, 3),
        ),
        sure=marked("declared filters against exposures; an estimate made without them agrees"),
        advice=ADVICE,
        by=say(
            "{size}; usual on this trip {spread}",
            size=size,
            spread=stops(float(first["neighbour_spread_stops"])),
        ),
        cause=joined([str(first["rig_words"]), _cause(first, over)], ": "),
        evidence=tuple((name, lights[name]) for name in (*names(part), *beside)),
    )


def _seen(size: str, over: bool, count: int) -> str:
    if over:
        return plural(
            count,
            "a scene {size} brighter than {count} run of frames beside it says",
            "a scene {size} brighter than {count} runs of frames before and after say",
            size=size,
            count=count,
        )
    return plural(
        count,
        "a scene {size} darker than {count} run of frames beside it says",
        "a scene {size} darker than {count} runs of frames before and after say",
        size=size,
        count=count,
    )


def _cause(first: pd.Series, over: bool) -> str:
    """What was on instead, by the kit."""
    what = marked("less was on than declared") if over else marked("more was on than declared")
    if pd.isna(first["other_stops"]):
        return joined([what, marked("but no filter of the kit explains as much")], ", ")
    if not len(first["other_filters"]):
        return joined([what, marked("no neutral at all would fit")], ", ")
    quoted = joined([f'"{name}"' for name in first["other_filters"]], " + ")
    total = stops(float(first["other_stops"]))
    return joined([what, say("{filter_names}, {total}, would fit", filter_names=quoted, total=total)], ", ")
