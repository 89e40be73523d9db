"""Places in the page."""

from __future__ import annotations

from dataclasses import dataclass

SHOWN_LINKS = 24
"""Frames linked at once in a row; the others unfold."""


@dataclass(frozen=True)
class Link:
    """A place in the page: anchor without "#" ("" where there is none), words, level of a finding."""

    anchor: str
    text: str
    level: str = ""
