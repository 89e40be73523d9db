"""What of the kit was used, how often, with which verdict for the corners, and what was never used."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from audit.declare.rig import Rig
from audit.message.text import marked, plural, say
from audit.report.words import known, text
from audit.result import Result
from audit.table.columns import records

WORST = ("cut", "at risk", "clear")
"""Verdicts, the worst first; a focal length is told by its worst frame."""

PARTS = (
    (marked("Lens"), marked("lens {name}"), "lenses", ()),
    (marked("Ring"), marked("ring {name}"), "rings", ("ring",)),
    (marked("Step ring"), marked("step ring {name}"), "step_rings", ("behind",)),
    (marked("Screw-in"), marked("screw-in {name}"), "screw_ins", ("behind",)),
    (marked("Holder"), marked("holder {name}"), "holders", ("holder", "second_holder")),
    (marked("Filter"), marked("filter {name}"), "filters", ("filters",)),
    (marked("Hood"), marked("hood {name}"), "hoods", ("hood",)),
)
"""Name of a kind, one of it by name, its list in the kit, and the fields of a rig that name one."""


@dataclass(frozen=True)
class Focal:
    """One focal length of the strip: verdict with the frames that have it."""

    words: str
    verdict: str
    frames: str


@dataclass(frozen=True)
class Use:
    """One thing of the kit over the trip."""

    kind: str
    name: str
    frames: str
    focals: tuple[Focal, ...]


@dataclass(frozen=True)
class KitUse:
    """What was used, in the kit's order, and the names of what was not."""

    used: tuple[Use, ...]
    unused: tuple[str, ...]


def kit_use(result: Result) -> KitUse:
    """Uses of every lens, ring, holder, filter and hood of the kit."""
    rows = records(result.frames, ("lens_id", "rig", "focal_length_mm", "corner_verdict"))
    used, unused = [], []
    for kind, one, listed, fields in PARTS:
        for part in getattr(result.kit, listed):
            worn = [row for row in rows if _wears(row, part.id, fields, result.rigs)]
            if worn:
                focals = () if listed == "filters" else _focals(worn)
                used.append(Use(kind, part.id, _frames(len(worn)), focals))
            else:
                unused.append(say(one, name=part.id))
    return KitUse(tuple(used), tuple(unused))


def _wears(row: Mapping[str, Any], name: str, fields: Iterable[str], rigs: Mapping[str, Rig]) -> bool:
    if not fields:
        return text(row["lens_id"]) == name
    rig = rigs.get(text(row["rig"]))
    held = [getattr(rig, each) for each in fields] if rig else []
    return any(name in each if isinstance(each, tuple) else name == each for each in held)


def _focals(worn: Iterable[Mapping[str, Any]]) -> tuple[Focal, ...]:
    """Verdicts by whole mm of focal length; frames without a verdict count nowhere."""
    found: dict[int, list[str]] = {}
    for row in worn:
        if text(row["corner_verdict"]) in WORST and known(row["focal_length_mm"]):
            found.setdefault(round(float(row["focal_length_mm"])), []).append(text(row["corner_verdict"]))
    return tuple(_focal(mm, verdicts) for mm, verdicts in sorted(found.items()))


def _focal(mm: int, verdicts: list[str]) -> Focal:
    worst = min(verdicts, key=WORST.index)
    return Focal(f"{mm} mm", worst, _frames(verdicts.count(worst)))


def _frames(count: int) -> str:
    return plural(count, "{n} frame", "{n} frames")
