"""The share of frames that were lost, by cause and year. Nothing here knows where a frame was taken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.message.text import marked
from audit.season.interval import Share, share, worth

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

CAUSES = {
    "unreadable": (marked("file cannot be read"), marked("measured")),
    "corners": (marked("corners cut"), marked("predicted, or measured in the picture")),
    "corners-shown": (marked("corners dark against the declaration"), marked("measured")),
    "exposure-off": (marked("far too dark or too bright"), marked("measured")),
}
"""Checks that tell of a spoilt picture, in words, and how such a finding is known. All others that ask to act
are about the declaration."""
ANY = "any"


@dataclass(frozen=True)
class Lost:
    """Frames of a year (None: without a time, 0: all years) lost by a cause, ANY for any of them.

    `lost` counts findings that ask to act; `doubtful` frames have one that only asks to look.
    """

    year: int | None
    cause: str
    lost: Share
    doubtful: int


_LOST = """
WITH known AS (
    SELECT archive, frame_id, year(captured_at) AS year, coalesce(setup_id, frame_id) AS setup
    FROM frames),
judged AS (
    SELECT archive, frame_id, check_id AS cause, bool_or(level = 'act') AS lost,
        bool_or(level = 'look') AS doubtful
    FROM findings WHERE check_id IN (SELECT unnest(?)) AND level IN ('act', 'look') GROUP BY ALL),
each AS (
    FROM judged UNION ALL
    SELECT archive, frame_id, ?, bool_or(lost), bool_or(doubtful) FROM judged GROUP BY archive, frame_id),
setups AS (SELECT year, setup, count(*) AS n FROM known GROUP BY ALL),
sizes AS (
    SELECT year, grouping(year) = 1 AS every, sum(n) AS n, sum(n * n) AS squares
    FROM setups GROUP BY ROLLUP (year)),
counts AS (
    SELECT year, grouping(year) = 1 AS every, cause, count_if(lost) AS lost,
        count_if(doubtful AND NOT lost) AS doubtful
    FROM each JOIN known USING (archive, frame_id) GROUP BY cause, ROLLUP (year))
SELECT CASE WHEN s.every THEN 0 ELSE s.year END, s.n::BIGINT, s.squares::DOUBLE, c.cause, c.lost, c.doubtful
FROM sizes s LEFT JOIN counts c ON c.every = s.every AND c.year IS NOT DISTINCT FROM s.year"""


def lost(database: DuckDBPyConnection) -> tuple[Lost, ...]:
    """Each cause in each year, and in all of them; a year's causes in the order of CAUSES, ANY first."""
    sizes: dict[int | None, tuple[int, float]] = {}
    counts: dict[tuple[int | None, str], tuple[int, int]] = {}
    rows = database.execute(_LOST, [list(CAUSES), ANY]).fetchall()
    for year, frames, squares, cause, count, doubtful in rows:
        sizes[year] = frames, squares
        if cause is not None:
            counts[year, cause] = count, doubtful
    found = []
    for year in sorted(sizes, key=lambda one: (one != 0, one is None, one or 0)):
        frames, squares = sizes[year]
        for cause in (ANY, *CAUSES):
            count, doubtful = counts.get((year, cause), (0, 0))
            found.append(Lost(year, cause, share(count, frames, worth(frames, squares)), doubtful))
    return tuple(found) if any(frames for frames, _ in sizes.values()) else ()
