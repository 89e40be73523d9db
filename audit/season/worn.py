"""What was carried and worn, and at which focal lengths each rig was used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.season.interval import Share, share, worth

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

FOCALS = 3
"""Focal lengths told of a rig."""


@dataclass(frozen=True)
class FilterUse:
    """A filter over the season: archives that carried it and share in which it was worn, and frames.

    `known` is false where no kit names it. `worn` counts declarations, estimated ones in `estimated`.
    """

    filter: str
    known: bool
    worn: Share
    frames: int
    estimated: int


@dataclass(frozen=True)
class Focal:
    """A focal length to the whole mm [mm], and the share of the rig's frames that have it."""

    focal_mm: int
    share: Share


@dataclass(frozen=True)
class RigUse:
    """A rig: frames that have a focal length, and its most used ones."""

    rig: str
    words: str
    frames: int
    focals: tuple[Focal, ...]


_FILTERS = """
WITH worn AS (
    SELECT filter, archive, count(*) AS frames, count_if(declaration_source = 'estimated') AS estimated
    FROM frames JOIN (SELECT rig, unnest(list_distinct(filters)) AS filter FROM rigs) USING (rig)
    GROUP BY filter, archive)
SELECT filter, count(c.archive), count(*) FILTER (c.archive IS NOT NULL AND w.archive IS NOT NULL),
    count(w.archive), coalesce(sum(w.frames), 0)::BIGINT, coalesce(sum(w.estimated), 0)::BIGINT
FROM carried c FULL JOIN worn w USING (filter, archive) GROUP BY filter ORDER BY filter"""

_FOCALS = """
WITH kept AS (
    SELECT rig, round(focal_length_mm)::INTEGER AS focal_mm, coalesce(setup_id, frame_id) AS setup
    FROM frames WHERE rig IS NOT NULL AND focal_length_mm IS NOT NULL),
focals AS (SELECT rig, focal_mm, count(*) AS n FROM kept GROUP BY ALL),
whole AS (
    SELECT rig, sum(n) AS frames, sum(n * n) AS squares
    FROM (SELECT rig, setup, count(*) AS n FROM kept GROUP BY ALL) GROUP BY rig)
SELECT rig, rig_words, frames::BIGINT, squares::DOUBLE, focal_mm, n
FROM focals JOIN whole USING (rig) JOIN rigs USING (rig)
QUALIFY row_number() OVER (PARTITION BY rig ORDER BY n DESC, focal_mm) <= ?
ORDER BY frames DESC, rig, n DESC, focal_mm"""


def filters_used(database: DuckDBPyConnection) -> tuple[FilterUse, ...]:
    """Each filter that a kit names or a frame wore; those never used first, the most carried on top."""
    found = []
    for name, carried, both, worn_in, frames, estimated in database.execute(_FILTERS).fetchall():
        of = carried or worn_in
        found.append(FilterUse(name, carried > 0, share(both if carried else worn_in, of), frames, estimated))
    return tuple(sorted(found, key=lambda one: (one.frames > 0, -one.worn.of, one.frames, one.filter)))


def focals_used(database: DuckDBPyConnection) -> tuple[RigUse, ...]:
    """Rigs by their frames, each with its most used focal lengths."""
    found: dict[str, RigUse] = {}
    for rig, words, frames, squares, focal_mm, count in database.execute(_FOCALS, [FOCALS]).fetchall():
        before = found.get(rig, RigUse(rig, words or "", frames, ()))
        focal = Focal(focal_mm, share(count, frames, worth(frames, squares)))
        found[rig] = RigUse(rig, words or "", frames, (*before.focals, focal))
    return tuple(found.values())
