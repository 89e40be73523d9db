"""Where the corners that a picture shows contradict the rig that was declared, and what would explain it."""

from __future__ import annotations

from audit.message.text import say
from audit.pixels.compare import Held

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
    shown = {"loss": max(corners.stops, 0.0), "err": corners.err_stops}
    if held.shot.is_bare:
        if not corners.seen:
            return ""
        return say(
            "declared bare, but its corners are {loss:.2f} ± {err:.2f} stops darker than those of "
            "{other_frame}, declared bare too: a ring or a holder was still on",
            other_frame=partner.frame,
            **shown,
        )
    if corners.seen and least > high + MARGIN_STOPS:
        return say(
            "the corners lack {loss:.2f} ± {err:.2f} stops, predicted {predicted:.1f} at most: something "
            "more was in front than is declared, or the entrance pupil lies deeper than the kit says",
            predicted=high,
            **shown,
        )
    if most < low - MARGIN_STOPS and low > corners.threshold_stops:
        return say(
            "the corners lack {loss:.2f} ± {err:.2f} stops, predicted {predicted:.1f} at least: the rig "
            "was not on, or its ring is lower or wider than the kit says",
            predicted=predicted[0],
            **shown,
        )
    return ""
