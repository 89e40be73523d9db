"""What speaks against a calibration: no lens is like that, the frames disagree, another piece fits better.

A ring declared in the place of another moves the depth by millimetres and shows in nothing else when it was
the only rig. Two rigs, two focal lengths or frames wide open contradict each other then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from audit.declare.other_rigs import Swap
from audit.message.text import say
from audit.optics.calibrate import CalibrationRefused, PupilFit
from audit.optics.pupils import DEPTH, DRIFT, DRIFT_SPREAD_MM, GROWTH, prior

DEPTHS_MM = (6.0, 38.0)
"""Depths behind the thread of wide lenses: the traced ones (the tuning half of benchmarks/lens_world and the
six of the reference) lie from 8 to 33 mm."""
WIDE_ABOVE = 0.5
"""Half diagonal over focal length from which on a lens counts as wide; long lenses have deep pupils."""
MOST_DRIFT_MM, MOST_GROWTH = 6.0, 1.7
"""Further from what is usual than any of these lenses lies: 3.4 mm and 1.4."""
MOST_MISFIT = 1.8
"""By how many times their errors the frames of a right set-up disagree at most: 1.2 in 59 of 60 there."""
BETTER = 12.0
"""By so much must the sum of squares fall behind another piece of the kit."""
DEPTH_MM, DEPTH_SPREAD_MM = 23.0, 7.0
"""Depths of wide lenses, mean and 1 sigma, with which a piece that makes a strange depth is told."""


class Doubt(NamedTuple):
    """One thing that speaks against a calibration; `code` is depth, drift, growth, misfit or piece."""

    code: str
    words: str


Refit = Callable[[Swap], PupilFit]


def doubts(fit: PupilFit, half_diagonal_mm: float, swaps: Iterable[Swap], refit: Refit) -> tuple[Doubt, ...]:
    """All that speaks against a fit; `refit` fits the frames anew behind another piece of the kit."""
    return (
        *_strange(fit, half_diagonal_mm),
        *_disagreeing(fit),
        *_better(fit, half_diagonal_mm, swaps, refit),
    )


def _strange(fit: PupilFit, half_diagonal_mm: float) -> Iterable[Doubt]:
    """What no lens is like, even at the near end of its error."""
    for one in fit.pupils:
        focal, depth = one.focal_length_mm, one.value(DEPTH)
        wide = half_diagonal_mm / focal >= WIDE_ABOVE
        low, high = DEPTHS_MM
        if depth + one.err(DEPTH) < low or (wide and depth - one.err(DEPTH) > high):
            words = "a pupil {depth:.1f} mm deep at {focal:g} mm: that of wide lenses is {low:g} to {high:g}"
            yield Doubt("depth", say(words, depth=depth, focal=focal, low=low, high=high))
        usual = prior(focal, depth, half_diagonal_mm)
        room = MOST_DRIFT_MM * max(1.0, usual.drift_err_mm / DRIFT_SPREAD_MM)
        if wide and abs(one.value(DRIFT) - usual.drift_mm) > room:
            words = "a drift of {drift:.1f} mm at {focal:g} mm: no lens that was traced drifts so far"
            yield Doubt("drift", say(words, drift=one.value(DRIFT), focal=focal))
        if abs(one.value(GROWTH) - usual.growth) > MOST_GROWTH + 0.5 * one.wide_open:
            words = "a growth of {growth:.1f} at {focal:g} mm: no lens that was traced grows so"
            yield Doubt("growth", say(words, growth=one.value(GROWTH), focal=focal))


def _disagreeing(fit: PupilFit) -> Iterable[Doubt]:
    if fit.misfit > MOST_MISFIT:
        words = "the frames disagree by {misfit:.1f} times their errors; look at the rigs declared"
        yield Doubt("misfit", say(words, misfit=fit.misfit))


def _better(fit: PupilFit, half_diagonal_mm: float, swaps: Iterable[Swap], refit: Refit) -> Iterable[Doubt]:
    """Another piece of the kit that explains the frames better."""
    mine, best, least = _score(fit, half_diagonal_mm), None, float("inf")
    if mine <= BETTER:
        return  # none can be better by that much
    for swap in swaps:
        try:
            score = _score(refit(swap), half_diagonal_mm)
        except CalibrationRefused:
            continue
        if score < least:
            best, least = swap, score
    if best is not None and least < mine - BETTER:
        words = "{instead_name} instead of {declared_name} would explain the frames better; which one was on?"
        yield Doubt("piece", say(words, instead_name=best.instead, declared_name=best.declared))


def _score(fit: PupilFit, half_diagonal_mm: float) -> float:
    """Sum of squares of what is left, a strange depth counted."""
    first = fit.pupils[0]
    if half_diagonal_mm / first.focal_length_mm < WIDE_ABOVE:
        return fit.chi_square
    return fit.chi_square + ((first.value(DEPTH) - DEPTH_MM) / DEPTH_SPREAD_MM) ** 2
