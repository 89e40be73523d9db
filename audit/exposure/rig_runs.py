"""Runs of frames that wear the same at one setup, and the light that they imply."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from audit.table.column import missing

HAND_S = 12.0
"""Nobody takes a filter off or puts one on faster, and meters again (common practice, no source)."""
STEP_STOPS = 1.5
"""Frames of one rig that differ by more are two runs: a filter may be on that is not declared."""

Row = dict[str, Any]


@dataclass
class Run:
    """Frames of one setup and rig, in order; `lights` are the middles of what each implies, growing."""

    rows: list[tuple[object, Row]]
    lights: list[float] = field(default_factory=list)

    def add(self, label: object, row: Row) -> None:
        """Takes one more frame in."""
        self.rows.append((label, row))
        insort(self.lights, _middle(row))

    @property
    def first(self) -> Row:
        """The cells of its first frame."""
        return self.rows[0][1]

    @property
    def last(self) -> Row:
        """The cells of its last frame."""
        return self.rows[-1][1]

    @property
    def light(self) -> float:
        """The median of its lights."""
        half = len(self.lights) // 2
        return (self.lights[~half] + self.lights[half]) / 2

    def takes(self, row: Row) -> bool:
        """Whether a frame goes on with this run: same rig, and no time or no reason to have changed it."""
        last = self.last
        if any(last[key] != row[key] for key in ("body", "setup", "rig")):
            return False
        if any(not missing(row[key]) and row[key] == last[key] for key in ("bracket", "sequence_of")):
            return True
        pause_s = 60 * (row["minute"] - last["minute"]) - max(seconds(last), seconds(row))
        return pause_s <= HAND_S or abs(_middle(row) - self.light) <= STEP_STOPS


def runs_of(rows: Iterable[tuple[object, Row]]) -> list[Run]:
    """The runs of rows (label, cells) in order of body and time."""
    found: list[Run] = []
    for label, row in rows:
        if not found or not found[-1].takes(row):
            found.append(Run([]))
        found[-1].add(label, row)
    return found


def _middle(row: Row) -> float:
    """The light that a frame implies, in the middle of its range."""
    lost = (row["even_stops_min"] + row["even_stops_max"] + (row["grad_stops"] or 0.0)) / 2
    return float(row["base"] + lost + row["slipped"])


def seconds(row: Row) -> float:
    """Exposure time, 0 where none is known."""
    return 0.0 if missing(row["exposure_time_s"]) else float(row["exposure_time_s"])
