"""Where small pictures come from, as the measurements see it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from audit.model.sketch import Sketch

Row = Mapping[str, Any]


class Pictures(Protocol):
    """Gives a frame's small picture when asked."""

    def of(self, row: Row) -> Sketch | None:
        """The small picture of a frame, or None."""

    def why(self, row: Row) -> str:
        """Why there is none."""
