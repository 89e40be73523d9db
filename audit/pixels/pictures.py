"""Where small pictures come from, as the measurements see it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from audit.pixels.sketch import Sketch

Row = Mapping[str, Any]
USED = (
    *("frame", "files", "preview_file", "preview_offset", "preview_bytes", "width_px", "height_px"),
    *("orientation", "model", "lens", "focal_length_mm", "f_number_exact", "exposure_time_s"),
    *("exposure_time_exact_s", "ev100", "sky_ev100", "white_balance", "scene", "corner"),
    *("declaration_source", "rig", "mount_words", "filters", "even_stops_min", "even_stops_max"),
)
"""Columns of a row that are looked at here and where pictures come from."""


class Pictures(Protocol):
    """Gives a frame's small picture when asked."""

    def of(self, row: Row) -> Sketch | None:
        """The small picture of a frame, or None."""

    def why(self, row: Row) -> str:
        """Why there is none."""
