"""What a frame's pixels show, in words: one line for each measurement, with how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audit.report.words import Stated, known, number, span, text

THIRDS = ("top", "middle", "bottom")
SHOWN_SHARE = 0.0005
"""Smaller shares are told as none."""
TELLING_SHARE = 0.01
"""A third clipped by less is not worth a word in the summary."""
UNTOLD = ("no filter is on",)
"""Reasons that only say again what was worn."""

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Line:
    """One line: its name, what was measured or hinted, and the frame it speaks of besides, or ""."""

    name: str
    said: Stated
    other: str = ""


def plus_minus(value: float, err: float, digits: int = 1) -> str:
    """A measured value with its 95 % range, both to the same decimals; a range rounds up to show."""
    shown = f"{value:.{digits}f}".replace("-", "\N{MINUS SIGN}")
    if not float(f"{value:.{digits}f}"):
        shown = shown.removeprefix("\N{MINUS SIGN}")
    if not math.isfinite(err):
        return shown
    return f"{shown} ± {max(err, 10.0**-digits):.{digits}f}"


def lines(row: Row) -> tuple[Line, ...]:
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
    corners = f"corners {corner_loss(row)}" if corner_loss(row) else ""
    if corners and known(row["contradiction"]):
        corners += ", which contradicts the declared rig"
    parts = [strength(row, brief=True), corners]
    worst = max((_share(row, f"clipped_{third}"), third) for third in THIRDS)
    if worst[0] >= TELLING_SHARE:
        parts.append(f"JPEG clipped, {_least(row)}{_percent(worst[0])} of the {worst[1]} third")
    return "; ".join(part for part in parts if part)


def strength(row: Row, *, brief: bool = False) -> str:
    """Strength of what was worn with its two ranges, or ""."""
    if not known(row["strength_stops"]):
        return ""
    held = f"{plus_minus(row['strength_stops'], row['strength_err_stops'])} stops if the light held"
    what = f"{text(row['strength_filter'])} " if known(row["strength_filter"]) else ""
    if brief or not known(row["strength_light_err_stops"]):
        return what + held
    return f"{what}{held}, ± {row['strength_light_err_stops']:.1f} with changing light"


def corner_loss(row: Row) -> str:
    """Measured loss in the corners, or ""."""
    if not known(row["shown_loss_stops"]):
        return ""
    words = plus_minus(row["shown_loss_stops"], row["shown_loss_err_stops"], 2)
    return f"{words} stops darker" if seen(row) else f"{words} stops, none seen"


def seen(row: Row) -> bool:
    """Whether the measured loss is more than the least that the pair can show."""
    least = row["shown_loss_threshold_stops"]
    return bool(row["shown_loss_stops"] > least) if known(least) else True


def predicted_there(row: Row) -> str:
    """Predicted loss over the corners that were measured, or ""."""
    low, high = row["shown_predicted_min_stops"], row["shown_predicted_max_stops"]
    return f"{span(low, high, 2)} stops" if known(low) and known(high) else ""


def cast(row: Row) -> str:
    """Colour cast with direction, or ""."""
    if not known(row["cast_uv"]):
        return ""
    words = f"{plus_minus(row['cast_uv'], row['cast_err_uv'], 3)} in u'v'"
    mired = f", {row['cast_mired']:+.0f} mired" if known(row["cast_mired"]) else ""
    direction = f"{text(row['cast_words'])}: " if known(row["cast_words"]) else ""
    return direction + words + mired.replace("-", "\N{MINUS SIGN}")


def _source(row: Row) -> Line | None:
    return Line("Pixels", Stated(text(row["pixel_source"]))) if known(row["pixel_source"]) else None


def _shares(row: Row, kind: str) -> Line | None:
    if not all(known(row[f"{kind}_{third}"]) for third in THIRDS):
        return None
    shares = {third: float(row[f"{kind}_{third}"]) for third in THIRDS}
    if max(shares.values()) < SHOWN_SHARE:
        found = "none seen" if _least(row) else "none"
    else:
        found = _least(row) + ", ".join(f"{third} {_percent(share)}" for third, share in shares.items())
    return Line(f"JPEG {kind}", Stated(found, "measured"))


def _least(row: Row) -> str:
    return "at least " if text(row["clipping_basis"]) == "reduced" else ""


def _share(row: Row, name: str) -> float:
    return float(row[name]) if known(row[name]) else 0.0


def _percent(share: float) -> str:
    return f"{number(100 * share, 0 if share >= 0.1 else 1)} %"


def _pair(row: Row) -> Line | None:
    if not known(row["pair_stops"]):
        return None
    off, err = float(row["pair_stops"]), row["pair_err_stops"]
    side = "brighter" if off > 0 else "darker"
    words = f"whose picture is {plus_minus(abs(off), err)} stops {side}"
    return Line("Held against", Stated(words, "measured"), text(row["pair_with"]))


def _strength(row: Row) -> Line | None:
    words = strength(row)
    if not words:
        return None
    if known(row["strength_verdict"]):
        verdict = text(row["strength_verdict"])
        words += ": off from what is declared" if verdict == "off" else f": {verdict}"
    if known(row["filter_stops"]):
        words += f"; over the trip {plus_minus(row['filter_stops'], row['filter_err_stops'])} stops"
    return Line("Strength", Stated(words, "measured"))


def _cast(row: Row) -> Line | None:
    return Line("Cast", Stated(cast(row), "measured")) if cast(row) else None


def _corners(row: Row) -> Line | None:
    words = corner_loss(row)
    if not words:
        return None
    words += ", mean of the four"
    if known(row["shown_loss_threshold_stops"]):
        words += f"; this pair shows {number(row['shown_loss_threshold_stops'])} or more"
    there = predicted_there(row)
    return Line("Corners", Stated(words, f"measured; predicted there {there}" if there else "measured"))


def _contradiction(row: Row) -> Line | None:
    words = text(row["contradiction"])
    return Line("Against the declaration", Stated(words, "measured")) if words else None


def _stack(row: Row) -> Line | None:
    words = text(row["stack_words"])
    if not words:
        return None
    if known(row["stack_loss_stops"]):
        words = f"corners {row['stack_loss_stops']:.1f} stops darker in the median; {words}".replace(
            " -", " \N{MINUS SIGN}"
        )
    return Line("Many pictures", Stated(words, "measured over all of them"))


def _hint(row: Row) -> Line | None:
    words = text(row["corner_hint"])
    return Line("Hint", Stated(words, "a hint, no measurement")) if words else None


def _not_measurable(row: Row) -> Line | None:
    """All that could not be measured in one line; what shares a reason shares its words."""
    if text(row["declaration"]) == "bare" and not known(row["pair_with"]):
        return None  # a bare frame needs no other one
    reasons: dict[str, list[str]] = {}
    for what, column in (
        ("brightness", "pair_why"),
        ("strength", "strength_why"),
        ("cast", "cast_why"),
        ("corners", "shown_loss_why"),
    ):
        why = text(row[column])
        if why and why not in UNTOLD:
            reasons.setdefault(why, []).append(what)
    words = "; ".join(f"{', '.join(what)}: {why}" for why, what in reasons.items())
    return Line("Not measurable", Stated(words)) if words else None
