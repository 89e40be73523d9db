"""Where the corners that a picture shows contradict the rig that was declared, and what would explain it."""

from __future__ import annotations

from audit.measure.witness.held import Held

MARGIN_STOPS = 0.15
"""Left to the model of the corner beside its own band: region medians of measured and predicted maps."""

DEEPEST_TOLD_STOPS = 2.0
"""Beyond, a picture's blacks end before the loss does: what it shows is the least."""


def contradiction(held: Held, predicted: tuple[float, float]) -> str:
    """In words, or an empty text; `predicted` is the loss over the same corners, best and worst end."""
    corners, partner = held.corners, held.partner
    if corners.why or partner is None:
        return ""
    low, high = min(predicted[0], DEEPEST_TOLD_STOPS), predicted[1]
    least, most = corners.stops - corners.err_stops, corners.stops + corners.err_stops
    shown = f"{max(corners.stops, 0.0):.2f} ± {corners.err_stops:.2f} stops"
    if held.shot.is_bare:
        return (
            ""
            if not corners.seen
            else (
                f"declared bare, but its corners are {shown} darker than those of {partner.frame}, "
                "declared bare too: a ring or a holder was still on"
            )
        )
    if corners.seen and least > high + MARGIN_STOPS:
        return (
            f"the corners lack {shown}, predicted {high:.1f} at most: something more was in front than is "
            "declared, or the entrance pupil lies deeper than the kit says"
        )
    if most < low - MARGIN_STOPS and low > corners.threshold_stops:
        return (
            f"the corners lack {shown}, predicted {low:.1f} at least: the rig was not on, or its ring "
            "is lower or wider than the kit says"
        )
    return ""
