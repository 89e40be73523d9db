"""XMP sidecars of the pictures in a bag: the card's own are merged into copies, and stay as they are."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from audit.archive.package import KNOWLEDGE, PICTURES
from audit.disk.dumps import Dump
from audit.result import Result
from audit.scan import walked
from audit.xmp.change import LeftAloneError, merged_at
from audit.xmp.known import known
from audit.xmp.places import places

SIDECARS = f"{KNOWLEDGE}/sidecars"


def sidecar_files(
    result: Result, pictures: Dump, bag: Path
) -> tuple[dict[str, bytes], tuple[tuple[str, str], ...]]:
    """What data/knowledge/sidecars holds, by path in the bag; and those of the card that cannot be merged.

    `result` is the audit of these pictures. A frame of which nothing is known has none. The reason stands
    beside each that cannot be merged.
    """
    made: dict[str, bytes] = {}
    left: list[tuple[str, str]] = []
    for place in places(result.rows, walked(pictures)):
        row = result.rows[place.row]
        found = known(row, result.rigs.get(row["rig"]), result.kit)
        if not found.worth_a_file:
            continue
        try:
            merged = merged_at(place, found)
        except LeftAloneError as error:
            left.append((place.shown, str(error)))
            continue
        made[f"{SIDECARS}/{place.path.relative_to(bag / PICTURES).as_posix()}"] = merged.after
    return made, tuple(left)


def sidecars_again(old: Collection[str], result: Result, pictures: Dump, bag: Path) -> dict[str, bytes]:
    """The same for a bag that is updated: only where it has sidecars already, by the `old` paths in it."""
    if not any(path.startswith(f"{SIDECARS}/") for path in old):
        return {}
    return sidecar_files(result, pictures, bag)[0]
