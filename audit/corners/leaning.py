"""Which way an undecided corner leans, and how surely: by the band, and by what the pictures show.

How far the cut lies from where it is predicted is taken to be normal, with a width of its own on either side
(the band is its 95 % range). What a frame then loses follows from the angles at which a tenth, half a stop,
one stop are lost. A measured loss weighs these places anew, and decides where it leaves no doubt.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from audit.corners.prediction import BLACK_STOPS, CLEAR_STOPS, CUT_STOPS, LADDER, Prediction
from audit.message.figures import number
from audit.message.text import marked, say
from audit.optics.arrays import Floats
from audit.optics.pupils import HALF_WIDTH
from audit.table.columns import filled, records

PLACES = np.linspace(-3.2, 3.2, 129)
"""Where the cut may lie, in sigmas."""
DECIDED = 0.975
"""From this chance on a measured picture moves the verdict."""
STACK_RATIO = 0.02
"""How often a stack of clear corners looks dark, to how often one of dark corners does: 1 % of stacks of
photographs without any rig pass the threshold, and about half of those with one (docs/pixels.md)."""
SEEN_UP_TO_STOPS = 4.0
"""Losses beyond this look alike in a picture."""

CLEAR, DARK, CUT = marked("clear"), marked("dark"), marked("cut")
LEANINGS = (CLEAR, DARK, CUT)
"""Less than 0.1 stop lost, up to 0.5, and more."""
EVEN = 0.55
"""Below this chance it is hard to tell."""
_PROBABLY = {
    CLEAR: marked("probably clear, {n} in 10"),
    DARK: marked("probably a little dark, {n} in 10"),
    CUT: marked("probably cut, {n} in 10"),
}
_HARD = {
    CLEAR: marked("hard to tell: clear {n} in 10"),
    DARK: marked("hard to tell: a little dark {n} in 10"),
    CUT: marked("hard to tell: cut {n} in 10"),
}


class Leaning(NamedTuple):
    """How likely the corner is clear, or cut (else it is a little dark), and the quartiles of its loss."""

    clear_share: float
    cut_share: float
    low_stops: float
    high_stops: float

    @property
    def _shares(self) -> tuple[float, ...]:
        return self.clear_share, 1 - self.clear_share - self.cut_share, self.cut_share

    @property
    def towards(self) -> str:
        """The likeliest of LEANINGS."""
        return LEANINGS[int(np.argmax(self._shares))]

    @property
    def share(self) -> float:
        """How likely that is."""
        return max(self._shares)

    @property
    def words(self) -> str:
        """As a colleague would say it."""
        words = (_PROBABLY if self.share >= EVEN else _HARD)[self.towards]
        return say(words, n=number(int(np.clip(round(10 * self.share), 1, 9))))

    @classmethod
    def of(cls, row: Mapping[str, Any]) -> Leaning | None:
        """That of a row of the table; None where it has none."""
        found = [row[name] for name in SHARES]
        return None if pd.isna(found[0]) else cls(*(float(value) for value in found))


SHARES = (
    "corner_clear_share",
    "corner_cut_share",
    "corner_likely_min_stops",
    "corner_likely_max_stops",
)


def leaning(prediction: Prediction) -> Leaning:
    """Which way a prediction leans; that of a decided one is its verdict."""
    angles = dict(zip(LADDER, prediction.angles_deg, strict=True))
    row = {
        "corner_angle_deg": prediction.angle_deg,
        "corner_early_deg": prediction.early_deg,
        "corner_late_deg": prediction.late_deg,
        **{name: np.nan if angle >= 90 else angle for name, angle in angles.items()},
    }
    return _likely(_losses(row), _normal())


def add_leanings(frames: pd.DataFrame) -> pd.DataFrame:
    """Fills the leaning of undecided corners, and decides them where a matched pair leaves no doubt."""
    found = [_told(row) for row in records(frames, _USED)]
    names = ("corner_verdict", "corner_verdict_by", "corner_leaning", *SHARES)
    return filled(frames, {name: [one[n] for one in found] for n, name in enumerate(names)})


_SHOWN = (
    "shown_loss_stops",
    "shown_loss_err_stops",
    "shown_predicted_min_stops",
    "shown_predicted_max_stops",
)
_USED = (
    *LADDER,
    *_SHOWN,
    "corner_verdict",
    "corner_angle_deg",
    "corner_early_deg",
    "corner_late_deg",
    "contradiction",
    "stack_loss_stops",
    "stack_threshold_stops",
)

_NOT_LEANING = (None, *[np.nan] * len(SHARES))


def _told(row: Mapping[str, Any]) -> tuple[Any, ...]:
    """The verdict, what it comes from, and the leaning."""
    verdict = row["corner_verdict"] if isinstance(row["corner_verdict"], str) else None
    if verdict != "at risk":
        return verdict, marked("predicted") if verdict in (CLEAR, CUT) else None, *_NOT_LEANING
    losses, weight = _losses(row), _normal()
    measured = _measured(row, losses)
    if measured is None:
        found = _likely(losses, weight * _stacked(row, losses))
        return verdict, marked("predicted"), found.towards, *found
    found = _likely(losses, weight * measured)
    if found.share >= DECIDED and found.towards in (CLEAR, CUT):
        return found.towards, marked("measured"), found.towards, *found
    return verdict, marked("predicted and measured"), found.towards, *found


def _normal() -> Floats:
    return np.asarray(np.exp(-0.5 * PLACES**2))


def _losses(row: Mapping[str, Any]) -> Floats:
    """Loss in the corner at each of PLACES: the further out the picture seems to reach, the more."""
    side = np.where(PLACES > 0, float(row["corner_early_deg"]), float(row["corner_late_deg"])) / HALF_WIDTH
    angle = float(row["corner_angle_deg"]) + PLACES * side
    known = [(row[name], min(loss, BLACK_STOPS)) for name, loss in LADDER.items() if pd.notna(row[name])]
    if not known:
        return np.zeros(len(PLACES))
    at, loss = (np.array(column, dtype=float) for column in zip(*known, strict=True))
    return np.interp(angle, np.append(2 * at[0] - at[-1] - 1.0, at), np.append(0.0, loss))


def _likely(losses: Floats, weight: Floats) -> Leaning:
    if not weight.sum() > 0:
        return Leaning(0.0, 0.0, 0.0, BLACK_STOPS)
    weight = weight / weight.sum()
    chance = np.cumsum(weight)
    low, high = (float(losses[np.searchsorted(chance, quarter)]) for quarter in (0.25, 0.75))
    clear, cut = weight[losses < CLEAR_STOPS].sum(), weight[losses >= CUT_STOPS].sum()
    return Leaning(float(clear), float(cut), low, high)


def _measured(row: Mapping[str, Any], losses: Floats) -> Floats | None:
    """How well each place agrees with a matched pair; None without one, or where it contradicts."""
    shown, err, low, high = (float(row[name]) if pd.notna(row[name]) else np.nan for name in _SHOWN)
    if np.isnan([shown, err, low, high]).any() or isinstance(row["contradiction"], str):
        return None
    seen = np.minimum(losses, SEEN_UP_TO_STOPS)
    ends = np.interp([-HALF_WIDTH, HALF_WIDTH], PLACES, seen)
    share = (seen - ends[0]) / (ends[1] - ends[0]) if ends[1] > ends[0] else np.full(len(seen), 0.5)
    there = low + share * (min(high, SEEN_UP_TO_STOPS) - low)
    return np.asarray(np.exp(-0.5 * ((shown - there) / max(err / HALF_WIDTH, 0.01)) ** 2))


def _stacked(row: Mapping[str, Any], losses: Floats) -> Floats:
    """A stack whose corners are dark speaks against clear ones; one that shows nothing says nothing."""
    dark = pd.notna(row["stack_loss_stops"]) and row["stack_loss_stops"] > row["stack_threshold_stops"]
    return np.where(dark & (losses < CLEAR_STOPS), STACK_RATIO, 1.0)
