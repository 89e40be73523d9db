"""Exposure times in words."""

from __future__ import annotations

from audit.message.text import figure, say


def duration(seconds: float) -> str:
    """An exposure time in words: 1/60 s, 0.5 s, 4 min 16 s."""
    if seconds < 0.4:
        return f"1/{1 / seconds:.0f} s"
    if seconds < 60:
        return say("{amount} s", amount=figure(f"{seconds:.3g}"))
    minutes, rest = divmod(round(seconds), 60)
    return say("{minutes} min {rest} s", minutes=minutes, rest=rest) if rest else f"{minutes} min"
