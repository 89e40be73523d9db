"""Places in the page."""

from __future__ import annotations

from dataclasses import dataclass

from audit.report.thumbnails import Thumbnail

SHOWN_LINKS = 12
"""Frames linked at once in a row; the others unfold."""


@dataclass(frozen=True)
class Link:
    """A place in the page: anchor without "#" ("" where there is none), words, level of a finding.

    `picture` is the thumbnail of a frame, where lists of frames show one.
    """

    anchor: str
    text: str
    level: str = ""
    picture: Thumbnail | None = None
