"""A ring or holder in front of a wide lens stops the light that should reach the corners.

The viewfinder at full aperture hides it, and a corner that is black at f/11 cannot be lifted later. The
loss follows from the geometry: how deep the entrance pupil lies behind the filter thread, how the bundle
grows off the axis, how far before the thread each opening sits and how wide it is. Depth, distortion and
dimensions are known within limits only, so the answer is a band, and the verdict is clear or cut only where
both ends of the band agree.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import lost, names, span, stops, whole
from audit.corners.leaning import SHARES, Leaning
from audit.finding import Finding
from audit.message.text import joined, marked, say

ID = "corners"
TITLE = "Corners darkened by ring or holder"
THRESHOLD = (
    "clear: less than 0.1 stop lost anywhere on the picture's edge even at the worst end of the band; "
    "cut: 0.5 stop or more even at the best end; at risk: all between, and only a note where it probably "
    "is clear"
)
SOURCE = (
    "footprint of the bundle in each opening's plane, growth and drift fitted on six ray-traced wide lenses "
    "(patent prescriptions); error of the field angle 0.6 to 1.2 degrees (95 %), measured on them; default "
    "dimensions: assumed"
)
ADVICE = (
    "Look at the corners of these frames at full size. A crop saves a cut corner, a gradient a mildly dark "
    "one; next time a recessed ring, one slot less, or a longer focal length. `cornerstop corners` says what "
    "helps most, and `cornerstop calibrate` narrows the band."
)
NEEDS = (
    "corner_verdict",
    "stitched",
    "declaration_source",
    "mount_words",
    "focal_length_mm",
    "corner_loss_min_stops",
    "corner_loss_max_stops",
    "contradiction",
    "corner_leaning",
)
LEVEL = {"cut": "act", "at risk": "look"}
WHOLE = 0.995
"""A clean crop of this share or more is the picture itself."""
LIFT_STOPS = 1.5
"""Up to this loss a corner is worth lifting; beyond it the noise shows (common practice, no source)."""


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    # Where the picture shows that nothing was cut, another check tells of the contradiction.
    spared = frames["contradiction"].notna() & (
        frames["shown_loss_stops"] < frames["shown_predicted_min_stops"]
    )
    measured = frames["corner_verdict_by"] == "measured"
    doubtful = frames[(frames["corner_verdict"].isin(list(LEVEL)) | measured) & ~spared]
    keys = ["corner_leaning", "stitched", "declaration_source", "corner_verdict", "mount_words", "lens"]
    for (leaning, stitched, source, verdict, _, lens, _), part in doubtful.groupby(
        [*keys, "corner_why"], sort=True, dropna=False
    ):
        mount, opening = part["mount_words"].iloc[0], part["corner_why"].iloc[0]
        low, high = part["corner_loss_min_stops"].min(), part["corner_loss_max_stops"].max()
        yield Finding(
            ID,
            _level(bool(stitched) or leaning == "clear", source == "estimated", str(verdict)),
            names(part),
            seen=joined(
                [
                    lost(low, high),
                    say("the {opening} is in the way", opening=opening),
                    *_saved(part),
                    _shown(part),
                ]
            ),
            expected=marked("less than 0.1 stop"),
            sure=_sure(part, source == "estimated"),
            advice=ADVICE,
            cause=joined(
                [
                    _where(part, mount, lens, verdict),
                    marked("covered by the neighbours of a panorama") if stitched else "",
                    _leans(part, verdict),
                ],
                ", ",
            ),
        )


def _leans(part: pd.DataFrame, verdict: object) -> str:
    """Which way it leans, or what the picture decided."""
    if (part["corner_verdict_by"] == "measured").all():
        return marked("as the picture shows")
    found = Leaning.of({name: part[name].median() for name in SHARES})
    return found.words if found is not None and verdict == "at risk" else ""


def _where(part: pd.DataFrame, mount: object, lens: object, verdict: object) -> str:
    """Rig, lens and settings, and the verdict on them."""
    focal, f_number = span(part["focal_length_mm"], "mm"), span(part["f_number"])
    values = {"mount": mount, "focal_length": focal, "f_number": f_number, "verdict": verdict}
    if not isinstance(lens, str):
        return say("{mount} on an unnamed lens at {focal_length}, f/{f_number}: {verdict}", **values)
    return say("{mount} on {lens_name} at {focal_length}, f/{f_number}: {verdict}", lens_name=lens, **values)


def _sure(part: pd.DataFrame, estimated: bool) -> str:
    """How the loss was found, and what was assumed."""
    if part["shown_loss_stops"].notna().any():
        basis = marked("predicted and measured")
        if estimated:
            basis = marked("predicted and measured for an estimated declaration")
    else:
        basis = marked("predicted for an estimated declaration") if estimated else marked("predicted")
    assumed = sorted({words for row in part["corner_assumed"] for words in row})
    return (
        say("{basis}, assuming {dimensions}", basis=basis, dimensions=joined(assumed)) if assumed else basis
    )


def _shown(part: pd.DataFrame) -> str:
    """What the pictures themselves show, where they were measured."""
    seen = part[part["shown_loss_stops"].notna()]
    if seen.empty:
        return ""
    return say(
        "measured over the four corners: {loss} ± {error:.2f} stops in {count} of the frames",
        loss=span(seen["shown_loss_stops"].clip(lower=0).round(2)),
        error=seen["shown_loss_err_stops"].max(),
        count=len(seen),
    )


def _level(harmless: bool, estimated: bool, verdict: str) -> str:
    """What was only estimated to be on is at most worth a look."""
    if harmless:
        return "note"
    return "look" if estimated else LEVEL[verdict]


def _saved(part: pd.DataFrame) -> list[str]:
    """What a crop or a gradient would do for the frames, in words."""
    words = []
    shares = part["clean_crop_share"].dropna()
    if (shares < WHOLE).any():
        worst = part["clean_crop_worst_share"].dropna()
        at_worst = marked("at worst none is")
        if len(worst):
            at_worst = say("{share:.0f} % to be safe", share=100 * worst.min())
        words.append(
            say(
                "a crop to {share} % of the picture is clean ({at_worst})",
                share=whole(100 * shares),
                at_worst=at_worst,
            )
        )
    mild = part[part["corner_loss_stops"].between(0.1, LIFT_STOPS)].dropna(subset="iso")
    if len(mild):
        loss = float(mild["corner_loss_stops"].max())
        iso = float(mild["iso"].max()) * 2**loss
        words.append(
            say(
                "lifting the corner by {loss} brings it the noise of ISO {iso:g}",
                loss=stops(loss),
                iso=float(f"{iso:.2g}"),
            )
        )
    if words:
        return words
    return [marked("probably nothing of it shows") if len(shares) else marked("no clean crop is left")]
