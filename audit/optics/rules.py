"""The trade's rules of thumb on wide lenses and filter holders, as a second opinion.

All of it is common practice, no source: a recessed ring below 24 mm; a second holder fine from
35 mm, doubtful from 28, not below, all on 36x24; 24 and 21 mm on APS-C; recessed rings are made for
threads of 49 to 82 mm.
"""

from __future__ import annotations

from audit.message.text import joined, marked, say

ROUNDED_DIAGONAL_MM = 43.267
"""Diagonal of 36x24 mm, rounded up by 0.4 um. Not `field.FULL_FRAME_DIAGONAL_MM`: a 9 mm lens of 24 mm
equivalent lies on the border of a rule, and the exact value would turn its verdict."""
SAME_FORMAT = 0.05
"""Sensors this near to 36x24 mm count as full frame."""
APS_C_CROP = (1.4, 1.7)
RING_LIMIT_MM = 24.0
SECOND_HOLDER_MM = {"full frame": (28.0, 35.0), "APS-C": (21.0, 24.0)}
RECESSED_THREADS_MM = (49.0, 82.0)
FINE, DOUBTFUL, NOT_FINE, SILENT = marked("fine"), marked("doubtful"), marked("not fine"), marked("silent")


def rule_of_thumb(
    focal_length_mm: float,
    diagonal_mm: float,
    ring_kind: str,
    second_holder: bool,
    thread_mm: float | None = None,
) -> tuple[str, str]:
    """What the trade's rules say of a rig on a lens.

    Other formats than full frame and APS-C are judged by their equivalent focal length on full frame; so is
    the ring rule on APS-C.

    Parameters
    ----------
    focal_length_mm : as written [mm]
    diagonal_mm : of the area used [mm]
    ring_kind : "standard" or "recessed"; any other is no ring [-]
    second_holder : whether a second holder is on [-]
    thread_mm : of the lens, None where unknown [mm]

    Returns
    -------
    verdict, fine, doubtful, not fine, or silent where no rule speaks; and the rule in words [-]

    Source
    ------
    Common practice, no source.
    """
    crop = ROUNDED_DIAGONAL_MM / diagonal_mm
    crop = 1.0 if abs(crop - 1) < SAME_FORMAT else crop
    aps_c = APS_C_CROP[0] <= crop <= APS_C_CROP[1]
    equivalent_mm = focal_length_mm * crop
    if second_holder:
        name = marked("APS-C") if aps_c else marked("full frame")
        low, high = SECOND_HOLDER_MM[name]
        judged = focal_length_mm if aps_c else equivalent_mm
        words = say(
            "a second holder on {format}: fine from {fine:g} mm, doubtful from {doubtful:g}, not below",
            format=name,
            fine=high,
            doubtful=low,
        )
        return (FINE if judged >= high else DOUBTFUL if judged >= low else NOT_FINE), words
    if ring_kind not in ("standard", "recessed"):
        return SILENT, marked("no rule for a rig without a ring")
    words = _ring_rule(crop)
    if ring_kind == "recessed" or equivalent_mm >= RING_LIMIT_MM:
        return FINE, words
    low, high = RECESSED_THREADS_MM
    if thread_mm is not None and not low <= thread_mm <= high:
        words = joined([words, say("none is made for {thread:g} mm threads", thread=thread_mm)])
    return NOT_FINE, words


def _ring_rule(crop: float) -> str:
    """The rule on rings in words, with its limit on this sensor."""
    if crop == 1:
        return say("a recessed ring below {limit:g} mm on full frame", limit=RING_LIMIT_MM)
    return say(
        "a recessed ring below {limit:g} mm on full frame ({here:.0f} mm on this sensor)",
        limit=RING_LIMIT_MM,
        here=RING_LIMIT_MM / crop,
    )
