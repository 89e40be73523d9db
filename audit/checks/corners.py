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

from audit.checks._words import lost, names, span, stops
from audit.model.finding import Finding

ID = "corners"
TITLE = "Corners darkened by ring or holder"
THRESHOLD = (
    "clear: less than 0.1 stop lost anywhere on the picture's edge even at the worst end of the band; "
    "cut: 0.5 stop or more even at the best end; at risk: all between"
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
    doubtful = frames[frames["corner_verdict"].isin(list(LEVEL)) & ~spared]
    clear = doubtful["shown_loss_stops"] <= doubtful["shown_loss_threshold_stops"]
    doubtful = doubtful.assign(shown_clear=clear & (doubtful["corner_verdict"] == "at risk"))
    keys = ["stitched", "declaration_source", "corner_verdict", "mount_words", "lens", "corner_why"]
    for (shown_clear, stitched, source, verdict, mount, lens, opening), part in doubtful.groupby(
        ["shown_clear", *keys], sort=True, dropna=False
    ):
        low, high = part["corner_loss_min_stops"].min(), part["corner_loss_max_stops"].max()
        where = f"{span(part['focal_length_mm'], 'mm')}, f/{span(part['f_number'])}"
        assumed = sorted({words for row in part["corner_assumed"] for words in row})
        yield Finding(
            ID,
            _level(stitched or shown_clear, source == "estimated", verdict),
            names(part),
            seen=f"{lost(low, high)}; limited by the {opening}; {_saved(part)}{_shown(part)}",
            expected="less than 0.1 stop",
            sure=("predicted and measured" if part["shown_loss_stops"].notna().any() else "predicted")
            + (" for an estimated declaration" if source == "estimated" else "")
            + (f", assuming {'; '.join(assumed)}" if assumed else ""),
            advice=ADVICE,
            cause=f"{mount} on {lens if pd.notna(lens) else 'an unnamed lens'} at {where}: {verdict}"
            + (", covered by the neighbours of a panorama" if stitched else "")
            + (", and clear in the picture" if shown_clear else ""),
        )


def _shown(part: pd.DataFrame) -> str:
    """What the pictures themselves show, where they were measured."""
    seen = part[part["shown_loss_stops"].notna()]
    if seen.empty:
        return ""
    over = span(seen["shown_loss_stops"].clip(lower=0).round(1))
    err = seen["shown_loss_err_stops"].max()
    return f"; measured over the four corners: {over} ± {err:.1f} stops in {len(seen)} of the frames"


def _level(harmless: bool, estimated: bool, verdict: str) -> str:
    """What was only estimated to be on is at most worth a look."""
    if harmless:
        return "note"
    return "look" if estimated else LEVEL[verdict]


def _saved(part: pd.DataFrame) -> str:
    """What a crop or a gradient would do for the frames, in words."""
    words = []
    shares = part["clean_crop_share"].dropna()
    if (shares < WHOLE).any():
        low, high = (f"{100 * share:.0f}" for share in (shares.min(), shares.max()))
        worst = part["clean_crop_worst_share"].dropna()
        at_worst = f"{100 * worst.min():.0f} % at worst" if len(worst) else "none is at worst"
        words.append(
            f"a crop to {low if low == high else f'{low} to {high}'} % of the area is clean ({at_worst})"
        )
    mild = part[part["corner_loss_stops"].between(0.1, LIFT_STOPS)].dropna(subset="iso")
    if len(mild):
        loss = float(mild["corner_loss_stops"].max())
        iso = float(mild["iso"].max()) * 2**loss
        words.append(
            f"lifting the corner by {stops(loss)} brings it the noise of ISO {float(f'{iso:.2g}'):g}"
        )
    if not words:
        words = ["nothing of it in the middle of the band" if len(shares) else "no clean crop is left"]
    return "; ".join(words)
