"""Numbers as they stand in the paths of a drawing."""

from __future__ import annotations


def tenth(value: float) -> str:
    """A coordinate to a tenth of the drawing's unit; a whole one without its point."""
    return f"{value:.1f}".removesuffix(".0")
