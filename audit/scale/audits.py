"""How the audits of a shelf's trips ended."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from audit.errors import NOTHING, OUR_FAULT, SOMETHING


@dataclass(frozen=True)
class Audited:
    """One trip: its name and folders below the shelf, and how its audit ended.

    `begins` and `ends` are by the camera's clock, None where no frame tells the time. `run` is the folder of
    its newest report below that of the shelf; "" where there is none because the audit ended with `said`.
    """

    name: str
    folders: tuple[str, ...]
    begins: datetime | None
    ends: datetime | None
    code: int
    said: str
    run: str = ""
    title: str = ""
    counts: dict[str, Any] = field(default_factory=dict)
    mistakes: int = 0

    def number(self, level: str) -> int:
        """How many findings of a level there are."""
        return int(self.counts["findings_by_level"][level]) if self.counts else 0


@dataclass(frozen=True)
class Audits:
    """All trips of a shelf, folders without any file, and what else lies there with why it was left."""

    shelf: str
    trips: tuple[Audited, ...]
    empty: tuple[str, ...]
    left: tuple[tuple[str, str], ...]

    @property
    def code(self) -> int:
        """The worst that an audit ended with: 3 a fault of ours, 1 where there is something to act on."""
        codes = {one.code for one in self.trips}
        return OUR_FAULT if OUR_FAULT in codes else SOMETHING if codes - {NOTHING} else NOTHING


def record(found: Audits) -> dict[str, Any]:
    """All of it as plain data, for shelf.json."""
    return {
        "schema_version": 1,
        "shelf": found.shelf,
        "trips": [
            {
                "name": one.name,
                "title": one.title,
                "folders": list(one.folders),
                "begins": one.begins.isoformat() if one.begins else None,
                "ends": one.ends.isoformat() if one.ends else None,
                "exit_code": one.code,
                "said": one.said,
                "run": one.run,
                "counts": one.counts,
                "mistakes": one.mistakes,
            }
            for one in found.trips
        ],
        "folders_without_files": list(found.empty),
        "left": [{"path": path, "reason": reason} for path, reason in found.left],
    }
