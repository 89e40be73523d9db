"""Which frames a report shows larger, which at full size, and which side by side: table and findings in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import pandas as pd

from audit.finding import LEVELS, Finding
from audit.report.view_evidence import CORNERS
from audit.report.words import known, text

Wish = Literal["found", "all", "none"]
"""Larger views of what was found and of keepers, of every frame, or none."""
A_FINDING = 24
"""Frames of one finding that get a larger view: one that names the whole trip is not seen in pictures."""
SIDE_BY_SIDE = 6
"""Frames of a setup that stand in one row."""
ALIKE = frozenset({"duplicate", "strong-handheld", "bracket-end", "diffraction"})
"""Checks after which one asks which frame of a setup is the sharp one."""
CUT_CHECKS = CORNERS - {"corner-rules"}
"""Checks whose frames' corners are looked at; a rule of thumb says nothing of this picture."""
PROPOSED = "proposed"
TOGETHER = ("setup", "scene")
SAME_FOCAL = 0.02
"""Part of the focal length by which two frames of one setup may differ, and show the same corners."""

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Plan:
    """Places in the table. `larger` in order of what matters most; `full` are decoded whole.

    `corners` leads from a frame whose corners are shown to the bare frame beside it, None where there is
    none; `beside` from a frame to those of its setup that stand in one row with it.
    """

    larger: tuple[int, ...]
    full: frozenset[int]
    corners: Mapping[int, int | None]
    beside: Mapping[int, tuple[int, ...]]


NOTHING = Plan((), frozenset(), {}, {})


def plan(rows: Sequence[Row], findings: Iterable[Finding], wish: Wish) -> Plan:
    """What is to be shown of which frame. Files that could not be read are left out."""
    if wish == "none":
        return NOTHING
    places = {
        text(row["frame"]): n for n, row in reversed(list(enumerate(rows))) if not known(row["problem"])
    }
    told = [f for level in LEVELS for f in findings if f.level == level]
    named = [places[name] for f in told for name in f.frames[:A_FINDING] if name in places]
    cut = _cut(rows, places, told)
    corners = _bare_beside(rows, places, cut)
    beside = _beside(rows, places, _asked(rows, places, told, wish))
    bare = [n for n in corners.values() if n is not None]
    rest = [n for n in places.values() if wish == "all" or known(rows[n]["kept"])]
    pairs = [places[other] for n in named if (other := text(rows[n]["pair_with"])) in places]
    order = dict.fromkeys([*cut, *bare, *named, *pairs, *beside, *sorted(rest)])
    return Plan(tuple(order), frozenset([*cut, *bare, *beside]), corners, beside)


def _cut(rows: Sequence[Row], places: Mapping[str, int], told: Sequence[Finding]) -> list[int]:
    """Frames at risk, cut or contradicted, and those of a finding about corners."""
    named = [places[name] for f in told if f.check in CUT_CHECKS for name in f.frames if name in places]
    by_verdict = [
        n
        for n in sorted(places.values())
        if text(rows[n]["corner_verdict"]) in ("at risk", "cut") or known(rows[n]["contradiction"])
    ]
    return list(dict.fromkeys([*by_verdict, *named]))


def _bare_beside(rows: Sequence[Row], places: Mapping[str, int], cut: list[int]) -> dict[int, int | None]:
    """By frame the bare one beside its corners: the one it was measured against, else the nearest in time."""
    bare: dict[tuple[str, str], list[int]] = {}
    for n in places.values():
        if _bare(rows[n]):
            for of in TOGETHER:
                bare.setdefault((of, text(rows[n][of])), []).append(n)
    found: dict[int, int | None] = {}
    for place in cut:
        row = rows[place]
        paired = places.get(text(row["pair_with"]))
        near = [n for of in TOGETHER if known(row[of]) for n in bare.get((of, text(row[of])), ())]
        alike = [n for n in near if n != place and _same_view(row, rows[n])]
        measured = paired is not None and _bare(rows[paired])
        found[place] = paired if measured else _nearest(rows, row, alike)
    return found


def _nearest(rows: Sequence[Row], row: Row, alike: Iterable[int]) -> int | None:
    return min(alike, key=lambda n: (_apart_s(row, rows[n]), n), default=None)


def _bare(row: Row) -> bool:
    return text(row["declaration"]) == "bare"


def _same_view(row: Row, other: Row) -> bool:
    """Whether two frames of one setup or scene have their corners at the same place of the scene."""
    focal = row["focal_length_mm"], other["focal_length_mm"]
    shape = all(text(row[name]) == text(other[name]) for name in ("width_px", "height_px", "orientation"))
    if not (shape and known(focal[0]) and known(focal[1])):
        return False
    return bool(abs(focal[0] - focal[1]) <= SAME_FOCAL * focal[0])


def _apart_s(row: Row, other: Row) -> float:
    times = row["captured_at"], other["captured_at"]
    if not all(known(time) for time in times):
        return float("inf")
    return abs((pd.Timestamp(times[0]) - pd.Timestamp(times[1])).total_seconds())


def _asked(
    rows: Sequence[Row], places: Mapping[str, int], told: Sequence[Finding], wish: Wish
) -> frozenset[int]:
    """Frames about which one asks which of their setup is the sharp one."""
    if wish == "all":
        return frozenset(places.values())
    kept = [n for n in places.values() if known(rows[n]["kept"]) and text(rows[n]["kept"]) != PROPOSED]
    named = [places[name] for f in told if f.check in ALIKE for name in f.frames if name in places]
    return frozenset([*kept, *named])


def _beside(
    rows: Sequence[Row], places: Mapping[str, int], asked: frozenset[int]
) -> dict[int, tuple[int, ...]]:
    """By frame the row it stands in, in order of time; a setup of many gives those that are asked about."""
    setups: dict[str, list[int]] = {}
    for n in sorted(places.values()):
        if known(rows[n]["setup"]):
            setups.setdefault(text(rows[n]["setup"]), []).append(n)
    found: dict[int, tuple[int, ...]] = {}
    for members in setups.values():
        if len(members) > 1 and not asked.isdisjoint(members):
            group = _in_order(rows, members, asked)
            found |= dict.fromkeys(group, group)
    return found


def _in_order(rows: Sequence[Row], members: list[int], asked: frozenset[int]) -> tuple[int, ...]:
    first = sorted(members, key=lambda n: (n not in asked, n))[:SIDE_BY_SIDE]
    return tuple(sorted(first, key=lambda n: (not known(rows[n]["captured_at"]), _time(rows[n]), n)))


def _time(row: Row) -> float:
    return pd.Timestamp(row["captured_at"]).timestamp() if known(row["captured_at"]) else 0.0
