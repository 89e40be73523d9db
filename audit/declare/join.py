"""One declaration for each frame: the nearest folder's span that covers it, or undeclared with the reason."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from audit.declare.index import FrameIndex, frame_index, upwards
from audit.declare.judged import Judged, judge
from audit.declare.rig import WHOLLY_KNOWN, Rig
from audit.declare.worn import Declaration
from audit.declare.worn_lens import settle_lenses
from audit.errors import Mistake
from audit.kit.kit import Filter, Kit, Lens, ScrewIn
from audit.message.figures import all_of, one_of
from audit.message.text import joined, marked, plural, say
from audit.optics.exposure import ev100, snap_f_number
from audit.table.columns import JOIN, filled, records
from audit.table.distinct import spread

STRONG_STOPS = 6.0
"""From here on light that leaks past a filter, or time that must be reckoned, matters (common practice)."""


def of_rigs(rigs: Iterable[Rig | None], kit: Kit) -> list[tuple[float, tuple[str, ...]]]:
    """(neutral_stops, ungasketed) of each; NaN and none without a rig. A rig is looked at once."""
    known: dict[int, tuple[float, tuple[str, ...]]] = {id(None): (float("nan"), ())}
    found = []
    for rig in rigs:
        if rig is not None and id(rig) not in known:
            known[id(rig)] = neutral_stops(rig, kit), ungasketed(rig, kit)
        found.append(known[id(rig)])
    return found


def neutral_stops(rig: Rig, kit: Kit) -> float:
    """Loss declared over the whole frame without a polariser, whose loss turns with it."""
    return float(sum(p.loss_stops[0] for p in _parts(rig, kit) if not p.is_grad and p.kind != "polariser"))


def ungasketed(rig: Rig, kit: Kit) -> tuple[str, ...]:
    """Ids of the strong filters in slots, back to front, for which the kit gives no gasket.

    A round or screw-in filter closes against its thread and needs none.
    """
    slots = {*rig.slots, *rig.second_slots}
    return tuple(
        part.id
        for part in _parts(rig, kit)
        if part.id in slots and part.loss_stops[0] >= STRONG_STOPS and part.id not in rig.gasketed
    )


def _parts(rig: Rig, kit: Kit) -> list[Filter | ScrewIn]:
    found = [kit.filter(name) or kit.between(name) for name in rig.filters]
    return [part for part in found if isinstance(part, Filter | ScrewIn)]


_USED = ("lens_id", "focal_length_mm", "f_number", "exposure_time_exact_s", "iso")


def fill_manual(frames: pd.DataFrame, spans: list[Judged | None], kit: Kit) -> pd.DataFrame:
    """Focal length, f-number and ev100 where the file has none and kit or span know them.

    A zoom without contacts has no focal length to give. `f_number_basis` says kit, or declared for the span.
    """
    lenses = {lens.id: lens for lens in kit.lenses if lens.no_contacts}
    cells = {name: frames[name].tolist() for name in _MANUAL}
    for row, seen in enumerate(records(frames, _USED)):
        lens = lenses.get(seen["lens_id"])
        if lens is not None:
            for name, value in _manual(seen, lens, spans[row]):
                cells[name][row] = value
    return filled(frames, cells)


_MANUAL = ("focal_length_mm", "f_number", "f_number_exact", "f_number_basis", "ev100")


def _manual(seen: dict[str, Any], lens: Lens, span: Judged | None) -> Iterator[tuple[str, Any]]:
    """The cells that a frame's file leaves empty."""
    if pd.isna(seen["focal_length_mm"]) and lens.focal_mm[0] == lens.focal_mm[1]:
        yield "focal_length_mm", lens.focal_mm[0]
    declared = span.worn.f_number if span is not None else None
    f_number = declared if declared is not None else lens.f_number
    if f_number is None or not pd.isna(seen["f_number"]):
        return
    exact, _ = snap_f_number(f_number)
    yield from (("f_number", f_number), ("f_number_exact", exact))
    yield "f_number_basis", marked("declared") if declared is not None else marked("kit")
    time_s, iso = seen["exposure_time_exact_s"], seen["iso"]
    if not pd.isna(time_s) and not pd.isna(iso) and time_s > 0 and iso > 0:
        yield "ev100", ev100(exact, time_s, iso)


NAN = float("nan")


@dataclass(frozen=True)
class Joined:
    """The frame table with its join columns, the rigs by the table's `rig`, and the spans' mistakes."""

    frames: pd.DataFrame
    rigs: dict[str, Rig]
    mistakes: tuple[Mistake, ...]


@dataclass
class Settled:
    """For each row either the span that covers it or the reason why none does; both None while open."""

    span: list[Judged | None]
    reason: list[str | None]

    def open(self, row: int) -> bool:
        """Whether nothing has been decided for a row yet."""
        return self.span[row] is None and self.reason[row] is None


def join(frames: pd.DataFrame, kit: Kit, declarations: Sequence[Declaration]) -> Joined:
    """Join frames (with gear columns) and declarations; rows and their order stay as they are.

    A span with a mistake covers nothing: its frames are undeclared, and the mistake is told.
    """
    index = frame_index(frames)
    settled = Settled([None] * len(frames), [None] * len(frames))
    lens_ids, sources = frames["lens_id"], frames["lens_source"]
    seen = [(x if isinstance(x, str) else None, y == "exif") for x, y in zip(lens_ids, sources, strict=True)]
    mistakes: list[Mistake] = []
    spans: list[Judged] = []
    for declaration in sorted(declarations, key=_depth):
        judged = judge(declaration, kit, index, seen)
        spans += judged
        mistakes += _settle(declaration, judged, settled, index)
    _leftovers(settled, declarations, index)
    lenses = settle_lenses(frames, settled.span, settled.reason, kit, index)
    mistakes += [mistake for span in spans for mistake in span.mistakes]
    table = fill_manual(_filled(lenses, settled, kit), settled.span, kit)
    rigs = {rig.key: rig for span in settled.span if span is not None and (rig := span.rig) is not None}
    return Joined(table, rigs, tuple(sorted(set(mistakes))))


def _depth(declaration: Declaration) -> tuple[int, str]:
    """Deepest folder first."""
    depth = 0 if declaration.folder == "." else declaration.folder.count("/") + 1
    return -depth, declaration.folder


def _settle(
    declaration: Declaration, spans: list[Judged], settled: Settled, index: FrameIndex
) -> list[Mistake]:
    """Decide the open rows below one declaration."""
    covering: dict[int, list[Judged]] = {}
    doubting: dict[int, Judged] = {}
    for span in spans:
        for row in span.rows.tolist():
            if settled.open(row):
                covering.setdefault(row, []).append(span)
        for row in span.doubtful.tolist():
            doubting.setdefault(row, span)
    for row, found in covering.items():
        if len(found) == 1:
            settled.span[row] = found[0]
        else:
            places = all_of([span.place for span in found])
            settled.reason[row] = say("{places} both cover it", places=places)
    for row, span in doubting.items():
        if settled.open(row):
            settled.reason[row] = span.why
    if declaration.unreadable or not declaration.inherit:
        for row in index.below(declaration.folder).tolist():
            if settled.open(row):
                words = marked("no span of {path} covers it, and inherit = false stops there")
                if declaration.unreadable:
                    words = marked("{path} cannot be understood: {why}")
                settled.reason[row] = say(words, path=declaration.path, why=declaration.unreadable)
    return _overlaps(covering, index)


def _overlaps(covering: dict[int, list[Judged]], index: FrameIndex) -> list[Mistake]:
    """One mistake for each pair of spans that cover the same frames."""
    pairs: dict[tuple[int, int], tuple[Judged, Judged, list[int]]] = {}
    for row, found in covering.items():
        for late in range(1, len(found)):
            for early in range(late):
                one, other = found[early], found[late]
                pairs.setdefault((one.number, other.number), (one, other, []))[2].append(row)
    mistakes = []
    for one, other, rows in pairs.values():
        key = "times" if other.worn.times is not None else "files"
        line = other.declaration.line(other.number, key)
        text = plural(
            len(rows),
            "covers {count} frame that the span of {other_path} covers too ({frames}); "
            "end one before the other begins",
            "covers {count} frames that the span of {other_path} covers too ({frames}); "
            "end one before the other begins",
            count=len(rows),
            other_path=one.place,
            frames=index.short_range(rows),
        )
        mistakes.append(Mistake(other.declaration.path, line, f"worn.{key}", text))
    return mistakes


def _leftovers(settled: Settled, declarations: Sequence[Declaration], index: FrameIndex) -> None:
    """Say of each row that no span covers which declarations were looked at."""
    declared = {declaration.folder: declaration.path for declaration in declarations}
    known: dict[str, list[str]] = {}
    for row, folder in enumerate(index.folders):
        if not settled.open(row):
            continue
        if folder not in known:
            known[folder] = [declared[above] for above in upwards(folder) if above in declared]
        above = known[folder]
        no_time = index.true_us[row] == np.iinfo(np.int64).min and bool(above)
        timeless = marked("it has no time, so only a span by file names can") if no_time else ""
        settled.reason[row] = joined((_why_not(above), timeless), "; ")


def _why_not(above: list[str]) -> str:
    if not above:
        return marked("no filters.toml in its folder or above it")
    return say("no span of {paths} covers it", paths=one_of(above))


def _filled(frames: pd.DataFrame, settled: Settled, kit: Kit) -> pd.DataFrame:
    """The table with the join columns."""
    spans = list({id(span): span for span in settled.span}.values())
    number = {id(span): place for place, span in enumerate(spans)}
    rigs = [None if span is None else span.rig for span in spans]
    known = [rig if rig is not None and rig.state in WHOLLY_KNOWN else None for rig in rigs]
    # That no neutral was on is known where nothing else is: then neutral_stops is 0, all other sums null.
    neutrals = [rig if rig is not None and rig.state != "unknown" else None for rig in rigs]
    beyond_the_sum = of_rigs(neutrals, kit)
    values: dict[str, Sequence[Any]] = {
        "declaration": [r.state if r else marked("undeclared") for r in rigs],
        "declaration_source": [r.source if r else None for r in rigs],
        "stitched": [bool(s and s.worn.stitched) for s in spans],
        "declared_in": [s.place if s else None for s in spans],
        "rig": [r.key if r else None for r in rigs],
        "rig_words": [r.words if r else None for r in rigs],
        "mount": [r.mount or None if r else None for r in rigs],
        "mount_words": [r.mount_words or None if r else None for r in rigs],
        "filters": [r.filters if r else () for r in rigs],
        "even_stops_min": [r.even_stops[0] if r else NAN for r in known],
        "even_stops_max": [r.even_stops[1] if r else NAN for r in known],
        "grad_stops": [r.grad_stops if r else NAN for r in known],
        "stops_words": [r.stops_words if r else None for r in rigs],
        "neutral_stops": [stops for stops, _ in beyond_the_sum],
        "ungasketed": [open_ids for _, open_ids in beyond_the_sum],
        "eyepiece_covered": [r.eyepiece_covered if r else None for r in rigs],
    }
    told = filled(frames, {"undeclared_reason": settled.reason})
    told = spread(told, values, np.array([number[id(span)] for span in settled.span], dtype=np.intp))
    return told[[*frames, *(column.name for column in JOIN)]]
