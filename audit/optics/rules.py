"""The trade's rules of thumb on wide lenses and filter holders, as a second opinion.

All of it is common practice, no source: a recessed ring below 24 mm; a second holder fine from
35 mm, doubtful from 28, not below, all on 36x24; 24 and 21 mm on APS-C; recessed rings are made for
threads of 49 to 82 mm.
"""

from __future__ import annotations

FULL_FRAME_DIAGONAL_MM = 43.267
SAME_FORMAT = 0.05
"""Sensors this near to 36x24 mm count as full frame."""
APS_C_CROP = (1.4, 1.7)
RING_LIMIT_MM = 24.0
SECOND_HOLDER_MM = {"full frame": (28.0, 35.0), "APS-C": (21.0, 24.0)}
RECESSED_THREADS_MM = (49.0, 82.0)


def rule_of_thumb(
    focal_length_mm: float,
    diagonal_mm: float,
    ring_kind: str,
    second_holder: bool,
    thread_mm: float | None = None,
) -> tuple[str, str]:
    """(verdict, the rule in words): fine, doubtful, not fine, or silent where no rule speaks.

    `diagonal_mm` is that of the area used. Other formats than full frame and APS-C are judged by
    their equivalent focal length on full frame; so is the ring rule on APS-C.
    """
    crop = FULL_FRAME_DIAGONAL_MM / diagonal_mm
    crop = 1.0 if abs(crop - 1) < SAME_FORMAT else crop
    aps_c = APS_C_CROP[0] <= crop <= APS_C_CROP[1]
    equivalent_mm = focal_length_mm * crop
    if second_holder:
        name = "APS-C" if aps_c else "full frame"
        low, high = SECOND_HOLDER_MM[name]
        judged = focal_length_mm if aps_c else equivalent_mm
        words = f"a second holder on {name}: fine from {high:g} mm, doubtful from {low:g}, not below"
        return ("fine" if judged >= high else "doubtful" if judged >= low else "not fine"), words
    if ring_kind not in ("standard", "recessed"):
        return "silent", "no rule for a rig without a ring"
    here = f" ({RING_LIMIT_MM / crop:.0f} mm on this sensor)" if crop != 1 else ""
    words = f"a recessed ring below {RING_LIMIT_MM:g} mm on full frame{here}"
    if ring_kind == "recessed" or equivalent_mm >= RING_LIMIT_MM:
        return "fine", words
    low, high = RECESSED_THREADS_MM
    if thread_mm is not None and not low <= thread_mm <= high:
        words += f"; none is made for {thread_mm:g} mm threads"
    return "not fine", words
