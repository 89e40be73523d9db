"""How often each pair of ring and holder cut the corners of each lens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.season.interval import Share, share, worth

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection


@dataclass(frozen=True)
class Pair:
    """What carried the filters, on a lens ("" where no lens is named in the files).

    `cut` is the share of frames with a verdict that are cut for certain, `undecided` those at risk beside it;
    `measured` of the cut ones were seen in a picture, the others are predicted. `estimated` frames have an
    estimated declaration.
    """

    mount: str
    lens: str
    cut: Share
    undecided: int
    measured: int
    estimated: int


_PAIRS = """
WITH judged AS (
    SELECT mount_words AS mount, coalesce(lens, '') AS lens, coalesce(setup_id, frame_id) AS setup,
        corner_verdict = 'cut' AS cut, corner_verdict = 'at risk' AS undecided,
        corner_verdict_by <> 'predicted' AS measured, declaration_source = 'estimated' AS estimated
    FROM frames JOIN rigs USING (rig)
    WHERE mount_words IS NOT NULL AND corner_verdict IN ('clear', 'at risk', 'cut')),
setups AS (
    SELECT mount, lens, count(*) AS n, count_if(cut) AS cut, count_if(undecided) AS undecided,
        count_if(cut AND measured) AS measured, count_if(estimated) AS estimated
    FROM judged GROUP BY mount, lens, setup)
SELECT mount, lens, sum(n)::BIGINT, sum(n * n)::DOUBLE, sum(cut)::BIGINT, sum(undecided)::BIGINT,
    sum(measured)::BIGINT, sum(estimated)::BIGINT
FROM setups GROUP BY mount, lens ORDER BY mount, lens"""


def pairs(database: DuckDBPyConnection) -> tuple[Pair, ...]:
    """Pairs of mount and lens, those that surely cut most often first."""
    found = [
        Pair(mount, lens, share(cut, frames, worth(frames, squares)), undecided, measured, estimated)
        for mount, lens, frames, squares, cut, undecided, measured, estimated in database.execute(
            _PAIRS
        ).fetchall()
    ]
    return tuple(sorted(found, key=lambda one: (-one.cut.low, -one.cut.share, -one.cut.of)))
