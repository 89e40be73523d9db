"""Sidecars beside the pictures: the audit, then what each would become. Nothing is written here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from audit.disk.dumps import Dump, tops
from audit.errors import AuditError, Mistake
from audit.jobs.audit import audit
from audit.message.shown import shown_name
from audit.pixels.sources import Mode
from audit.scan import walked
from audit.xmp.change import Change, LeftAloneError, plan
from audit.xmp.known import known
from audit.xmp.places import BAG_FILE, places

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Planned:
    """What changes, the sidecars that are left alone with the reason, and how many frames there are.

    `same` counts the sidecars that hold all of it already, or would be new and say nothing.
    """

    changes: tuple[Change, ...]
    left: tuple[tuple[str, str], ...]
    same: int
    frames: int
    mistakes: tuple[Mistake, ...]


def plan_sidecars(
    dump: Dump,
    *,
    kit_path: Path | None = None,
    declarations: Path | None = None,
    pixels: Mode = "preview",
    cache: Path | None = None,
    tick: Progress | None = None,
    begin: Callable[[str], None] = lambda stage: None,
) -> Planned:
    """What the sidecars of a dump would become; all else as for the audit.

    Raises AuditError where the dump lies in a bag, else as the audit.
    """
    for top in tops(dump):
        _refuse_in_bag(top)
    result = audit(
        dump,
        kit_path=kit_path,
        declarations=declarations,
        pixels=pixels,
        cache=cache,
        tick=tick,
        begin=begin,
    )
    changes: list[Change] = []
    left: list[tuple[str, str]] = []
    same = 0
    for place in places(result.rows, walked(dump)):
        row = result.rows[place.row]
        rig = result.rigs.get(row["rig"])
        try:
            change = plan(place, known(row, rig, result.kit))
        except LeftAloneError as error:
            left.append((place.shown, str(error)))
            continue
        same += change is None
        changes += [] if change is None else [change]
    return Planned(tuple(changes), tuple(left), same, len(result.rows), result.mistakes)


def _refuse_in_bag(top: Path) -> None:
    whole = top.resolve()
    for folder in (whole, *whole.parents):
        if (folder / BAG_FILE).is_file():
            raise AuditError(
                f"{shown_name(str(top))}: lies in the bag {shown_name(str(folder))}, and a sidecar would "
                "break it; name the pictures where they came from"
            )
