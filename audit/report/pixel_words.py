"""What a frame's pixels show, in words: one line for each measurement, with how sure it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audit.corners.prediction import BLACK_STOPS
from audit.message.figures import MINUS, number, plus_minus
from audit.message.text import figure, joined, marked, say
from audit.pixels.cells import DEEPEST_TOLD_STOPS
from audit.report.words import Stated, known, span, text

THIRDS = ("top", "middle", "bottom")
CLIPPED = {
    "top": marked("JPEG clipped, {share} of the top third"),
    "middle": marked("JPEG clipped, {share} of the middle third"),
    "bottom": marked("JPEG clipped, {share} of the bottom third"),
}
SHARES = {"clipped": marked("JPEG clipped"), "black": marked("JPEG black")}
SHOWN_SHARE = 0.0005
"""Smaller shares are told as none."""
TELLING_SHARE = 0.01
"""A third clipped by less is not worth a word in the summary."""

Row = Mapping[str, Any]


@dataclass(frozen=True)
class PixelLine:
    """One line: its name, what was measured or hinted, and the frame it speaks of besides, or ""."""

    name: str
    said: Stated
    other: str = ""


def lines(row: Row) -> tuple[PixelLine, ...]:
    """Every measurement of one row; none where no pixels were looked at."""
    if known(row["pixel_why"]):
        return ()
    told = (_source(row), _shares(row, "clipped"), _shares(row, "black"), _pair(row), _strength(row))
    more = (_cast(row), _corners(row), _contradiction(row), _stack(row), _hint(row), _not_measurable(row))
    return tuple(line for line in (*told, *more) if line is not None)


def why_none(row: Row) -> str:
    """Why nothing was measured, or ""."""
    return text(row["pixel_why"])


def summary(row: Row) -> str:
    """The numbers worth seeing before the lines are unfolded, or ""."""
    loss, clipped = corner_loss(row), ""
    corners = say("corners {loss}", loss=loss) if loss else ""
    if corners and known(row["contradiction"]):
        corners = say("corners {loss}, which contradicts the declared rig", loss=loss)
    share, third = max((_share(row, f"clipped_{third}"), third) for third in THIRDS)
    if share >= TELLING_SHARE:
        clipped = say(CLIPPED[third], share=_at_least(row, _percent(share)))
    return joined([strength(row, brief=True), corners, clipped], "; ")


def strength(row: Row, *, brief: bool = False) -> str:
    """Strength of what was worn with its two ranges, or ""."""
    if not known(row["strength_stops"]):
        return ""
    amount = plus_minus(row["strength_stops"], row["strength_err_stops"])
    words = say("{strength} stops if the light held", strength=amount)
    if not brief and known(row["strength_light_err_stops"]):
        words = say(
            "{strength} stops if the light held, ± {changing:.1f} with changing light",
            strength=amount,
            changing=row["strength_light_err_stops"],
        )
    if not known(row["strength_filter"]):
        return words
    return say("{filter_name} {strength}", filter_name=text(row["strength_filter"]), strength=words)


def corner_loss(row: Row) -> str:
    """Measured loss in the corners, or ""."""
    if not known(row["shown_loss_stops"]):
        return ""
    words = plus_minus(row["shown_loss_stops"], row["shown_loss_err_stops"], 2)
    return say("{loss} stops darker", loss=words) if seen(row) else say("{loss} stops, none seen", loss=words)


def corners_mean(row: Row) -> str:
    """Measured loss in the corners and what it is of, or ""."""
    loss = corner_loss(row)
    return say("corners {loss}, mean of the four", loss=loss) if loss else ""


def seen(row: Row) -> bool:
    """Whether the measured loss is more than the least that the pair can show."""
    least = row["shown_loss_threshold_stops"]
    return bool(row["shown_loss_stops"] > least) if known(least) else True


def predicted_there(row: Row) -> str:
    """Predicted loss over the corners that were measured, or ""."""
    low, high = row["shown_predicted_min_stops"], row["shown_predicted_max_stops"]
    if not (known(low) and known(high)):
        return ""
    amount = span(low, high, 2)
    if high <= DEEPEST_TOLD_STOPS:
        return say("{amount} stops", amount=amount)
    message = marked(
        "{amount} stops (black counts as {black}; a picture shows only part of more than {told})"
    )
    return say(message, amount=amount, black=number(BLACK_STOPS, 0), told=number(DEEPEST_TOLD_STOPS, 0))


def cast(row: Row) -> str:
    """Colour cast with direction, or ""."""
    if not known(row["cast_uv"]):
        return ""
    return cast_words(row["cast_uv"], row["cast_err_uv"], row["cast_mired"], text(row["cast_words"]))


def cast_words(uv: float, err_uv: float, mired: float, direction: str) -> str:
    """A colour cast with its range, and its part along the daylight locus and direction where known."""
    amount = plus_minus(uv, err_uv, 3)
    if known(mired):
        words = say(
            "{cast} in u'v', about {mired} mired",
            cast=amount,
            mired=figure(f"{mired:+.0f}".replace("-", MINUS)),
        )
    else:
        words = say("{cast} in u'v'", cast=amount)
    return say("{direction}: {cast}", direction=direction, cast=words) if direction else words


def _source(row: Row) -> PixelLine | None:
    return (
        PixelLine(marked("Pixels"), Stated(text(row["pixel_source"]))) if known(row["pixel_source"]) else None
    )


def _shares(row: Row, kind: str) -> PixelLine | None:
    if not all(known(row[f"{kind}_{third}"]) for third in THIRDS):
        return None
    shares = {third: float(row[f"{kind}_{third}"]) for third in THIRDS}
    if max(shares.values()) >= SHOWN_SHARE:
        each = {third: _percent(share) for third, share in shares.items()}
        found = _at_least(row, say("top {top}, middle {middle}, bottom {bottom}", **each))
    else:
        found = marked("none seen") if _reduced(row) else marked("none")
    return PixelLine(SHARES[kind], Stated(found, marked("measured")))


def _reduced(row: Row) -> bool:
    return text(row["clipping_basis"]) == "reduced"


def _at_least(row: Row, share: str) -> str:
    """A reduced picture hides some of what is clipped."""
    return say("at least {share}", share=share) if _reduced(row) else share


def _share(row: Row, name: str) -> float:
    return float(row[name]) if known(row[name]) else 0.0


def _percent(share: float) -> str:
    return say("{share} %", share=number(100 * share, 0 if share >= 0.1 else 1))


def _pair(row: Row) -> PixelLine | None:
    if not known(row["pair_stops"]):
        return None
    off = float(row["pair_stops"])
    amount = plus_minus(abs(off), row["pair_err_stops"])
    words = say("whose picture is {amount} stops darker", amount=amount)
    if off > 0:
        words = say("whose picture is {amount} stops brighter", amount=amount)
    return PixelLine(marked("Compared with"), Stated(words, marked("measured")), text(row["pair_with"]))


def _strength(row: Row) -> PixelLine | None:
    words = strength(row)
    if not words:
        return None
    if known(row["strength_verdict"]):
        verdict = text(row["strength_verdict"])
        if verdict == "off":
            words = say("{strength}: off from what is declared", strength=words)
        else:
            words = say("{strength}: {verdict}", strength=words, verdict=verdict)
    if known(row["filter_stops"]):
        whole = plus_minus(row["filter_stops"], row["filter_err_stops"])
        words = joined([words, say("over the trip {strength} stops", strength=whole)], "; ")
    return PixelLine(marked("Strength"), Stated(words, marked("measured")))


def _cast(row: Row) -> PixelLine | None:
    return PixelLine(marked("Cast"), Stated(cast(row), marked("measured"))) if cast(row) else None


def _corners(row: Row) -> PixelLine | None:
    loss = corner_loss(row)
    if not loss:
        return None
    words = say("{loss}, mean of the four", loss=loss)
    if known(row["shown_loss_threshold_stops"]):
        least = number(row["shown_loss_threshold_stops"])
        words = joined([words, say("this pair shows {least} or more", least=least)], "; ")
    there = predicted_there(row)
    sure = say("measured; predicted there {loss}", loss=there) if there else marked("measured")
    return PixelLine(marked("Corners"), Stated(words, sure))


def _contradiction(row: Row) -> PixelLine | None:
    words = text(row["contradiction"])
    return PixelLine(marked("Against the declaration"), Stated(words, marked("measured"))) if words else None


def _stack(row: Row) -> PixelLine | None:
    words = text(row["stack_words"])
    if not words:
        return None
    if known(row["stack_loss_stops"]):
        loss = figure(f"{row['stack_loss_stops']:.1f}".replace("-", MINUS))
        words = joined([say("corners {loss} stops darker in the median", loss=loss), words], "; ")
    return PixelLine(marked("Many pictures"), Stated(words, marked("measured over all of them")))


def _hint(row: Row) -> PixelLine | None:
    words = text(row["corner_hint"])
    return PixelLine(marked("Hint"), Stated(words, marked("a hint, no measurement"))) if words else None


def _without_filter(row: Row) -> bool:
    """Whether two pictures could be compared of which none has a filter on: the reason says nothing new."""
    compared = known(row["pair_with"]) and not known(row["pair_why"])
    return compared and row["even_stops_max"] == 0 and row["grad_stops"] == 0


def _not_measurable(row: Row) -> PixelLine | None:
    """All that could not be measured in one line; what shares a reason shares its words."""
    if text(row["declaration"]) == "bare" and not known(row["pair_with"]):
        return None  # a bare frame needs no other one
    reasons: dict[str, list[str]] = {}
    for what, column in (
        (marked("brightness"), "pair_why"),
        (marked("strength"), "strength_why"),
        (marked("cast"), "cast_why"),
        (marked("corners"), "shown_loss_why"),
    ):
        why = text(row[column])
        if why and not (column == "cast_why" and _without_filter(row)):
            reasons.setdefault(why, []).append(what)
    words = joined(
        [say("{what}: {why}", what=joined(what, ", "), why=why) for why, what in reasons.items()], "; "
    )
    return PixelLine(marked("Not measurable"), Stated(words)) if words else None
