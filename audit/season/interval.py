"""How sure a share or a slope is, from few counts as well as from many; plain numbers in and out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

Z = 1.959964
"""Half width of the middle 95 % of the normal distribution, in standard deviations."""
_T = (
    *(12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228),
    *(2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086),
    *(2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042),
)
"""The same of Student's t for 1 to 30 degrees of freedom."""
LEAST_YEARS = 0.25
"""Values that lie nearer together say nothing about a change a year."""


@dataclass(frozen=True)
class Share:
    """So many of so many, with the 95 % range of the share behind them (fractions)."""

    count: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The share itself; NaN of nothing."""
        return self.count / self.of if self.of else math.nan


@dataclass(frozen=True)
class Trend:
    """A line through measured values: mean and slope a year with their 95 % ranges."""

    mean: float
    mean_err: float
    slope: float
    slope_err: float


def share(count: int, of: int, effective: float | None = None) -> Share:
    """A share with its 95 % range by Wilson's score interval, which holds for small counts and for 0.

    Parameters
    ----------
    count, of : so many of so many
    effective : what `of` is worth where its members are not independent; None: as many as there are

    Returns
    -------
    the share with its range [fraction]; from 0 to 1 of nothing

    Source
    ------
    Wilson 1927, J. Am. Stat. Assoc. 22, 209-212; that it is the one for small counts: Brown, Cai and DasGupta
    2001, Statistical Science 16, 101-133 (both from memory).
    """
    n = float(of if effective is None else min(effective, of))
    if n <= 0:
        return Share(count, of, 0.0, 1.0)
    p, z2 = count / of, Z * Z
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = Z / (1 + z2 / n) * math.sqrt(p * (1 - p) / n + z2 / (4 * n * n))
    low = 0.0 if count == 0 else max(middle - half, 0.0)
    return Share(count, of, low, 1.0 if count == of else min(middle + half, 1.0))


def worth(total: float, squares: float) -> float:
    """So many independent draws are groups worth whose members are alike: square of the sum, by the squares.

    Parameters
    ----------
    total : members of all groups
    squares : sum of the squares of the groups' sizes

    Returns
    -------
    effective number; the number of groups where all are of one size

    Source
    ------
    Kish 1965, Survey Sampling: design effect with a correlation of 1 within a group (from memory).
    """
    return total * total / squares if squares else 0.0


def student(freedom: int) -> float:
    """Half width of the middle 95 % of Student's t.

    Parameters
    ----------
    freedom : degrees of freedom, 1 or more

    Returns
    -------
    the quantile of 97.5 %; beyond 30 degrees of freedom that of 30, which is a little too wide

    Source
    ------
    Table in NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2 (from memory; a test integrates it).
    """
    return _T[min(freedom, len(_T)) - 1]


def trend(years: Sequence[float], values: Sequence[float], errs: Sequence[float]) -> Trend | None:
    """A straight line through values of different certainty; None for fewer than 3, or within LEAST_YEARS.

    Parameters
    ----------
    years : when each was measured [year]
    values : what was measured, any unit
    errs : their 95 % ranges, of the same unit, more than 0

    Returns
    -------
    mean and slope a year with 95 % ranges. Where the values scatter more than their own ranges say, the
    ranges are widened by as much, and Student's t takes the place of the normal distribution

    Source
    ------
    Weighted least squares; scale factor: Particle Data Group, Review of Particle Physics, Introduction (from
    memory).
    """
    if len(years) < 3:
        return None
    weights = [(Z / err) ** 2 for err in errs]
    total = sum(weights)
    centre = sum(w * x for w, x in zip(weights, years, strict=True)) / total
    mean = sum(w * y for w, y in zip(weights, values, strict=True)) / total
    spread = sum(w * (x - centre) ** 2 for w, x in zip(weights, years, strict=True))
    if max(years) - min(years) < LEAST_YEARS:
        return None
    rows = list(zip(weights, years, values, strict=True))
    slope = sum(w * (x - centre) * (y - mean) for w, x, y in rows) / spread
    scatter = sum(w * (y - mean - slope * (x - centre)) ** 2 for w, x, y in rows)
    wide = max(Z, student(len(years) - 2) * math.sqrt(scatter / (len(years) - 2)))
    return Trend(mean, wide / math.sqrt(total), slope, wide / math.sqrt(spread))
