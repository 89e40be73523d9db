"""Numbers as figures, and measured values with their range."""

from __future__ import annotations

import math

from audit.message.text import figure

MINUS = "\N{MINUS SIGN}"


def plus_minus(value: float, err: float, digits: int = 1) -> str:
    """A measured value with its 95 % range, both to the same decimals; a range rounds up to show."""
    shown = f"{value:.{digits}f}".replace("-", MINUS)
    if not float(f"{value:.{digits}f}"):
        shown = shown.removeprefix(MINUS)
    if not math.isfinite(err):
        return figure(shown)
    return figure(f"{shown} ± {max(err, 10.0**-digits):.{digits}f}")


def number(value: float, digits: int = 2) -> str:
    """Rounded to `digits` decimals without trailing zeros: 11.31, 16, 0.6."""
    shown = f"{value:.{digits}f}"
    shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return figure("0" if shown == "-0" else shown.replace("-", MINUS))
