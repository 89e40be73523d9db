"""Drafts of `filters.toml` from what the exposures say, in the words the photographer edits.

A span is drafted only where no declaration speaks. It carries `source = "estimated"` until the photographer
takes that line out; where the exposures do not tell, it is a comment and declares nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import pandas as pd
import tomlkit

from audit.declare.index import FrameIndex, frame_index
from audit.declare.rig_rules import rig_faults
from audit.declare.worn import Worn
from audit.kit.kit import Filter, Holder, Kit, Lens
from audit.table.columns import records


@dataclass(frozen=True)
class RigLines:
    """Lines of a span; `why` where the kit cannot carry the filters, `rings` that fit as well."""

    lines: tuple[str, ...]
    rings: tuple[str, ...] = ()
    why: str = ""


def rig_lines(kit: Kit, lens: Lens | None, ids: tuple[str, ...]) -> RigLines:
    """Ring, holder and slots for a set of filters; nothing of it is told by an exposure, so the kit decides.

    The simplest that fits: the first holder with slots enough, on the first ring of the lens' thread.
    """
    if not ids:
        return RigLines(("bare = true",))
    parts = [kit.filter(name) for name in ids]
    behind = [name for name, part in zip(ids, parts, strict=True) if part is None]
    slotted = sorted((p for p in parts if p is not None and not p.round), key=_back_first)
    front = [p.id for p in parts if p is not None and p.round]
    lines = [f"behind = [{_quoted(behind)}]"] if behind else []
    others: tuple[str, ...] = ()
    if slotted or front:
        holder = _holder(kit, len(slotted), bool(front))
        if holder is None:
            return RigLines((), why="no holder of the kit has slots enough")
        if holder.push_on_mm is None:
            rings = _rings(kit, lens)
            if not rings:
                return RigLines((), why=_no_ring(lens))
            lines.append(f'ring = "{rings[0]}"')
            others = rings[1:]
        lines.append(f'holder = "{holder.id}"')
        lines += [f"slots = [{_quoted([p.id for p in slotted])}]"] if slotted else []
        lines += [f'front = "{front[0]}"'] if front else []
    return RigLines(tuple(lines), others, _faults(kit, lens, tuple(lines)))


def _back_first(part: Filter) -> tuple[bool, str]:
    """Filters with a gasket belong in the back slot (common practice, no source)."""
    return not part.gasket, part.id


def _holder(kit: Kit, slots: int, front: bool) -> Holder | None:
    fits = (h for h in kit.holders if h.slots >= slots and (not front or h.front_ring_mm is not None))
    return next(fits, None)


def _rings(kit: Kit, lens: Lens | None) -> tuple[str, ...]:
    if lens is None:
        return (kit.rings[0].id,) if len(kit.rings) == 1 else ()
    return tuple(ring.id for ring in kit.rings if ring.thread_mm == lens.thread_mm)


def _no_ring(lens: Lens | None) -> str:
    if lens is None:
        return "the lens is not in the kit, so no ring can be named"
    return f'no ring of the kit fits lens "{lens.id}"; name step ring and ring by hand'


def _quoted(names: list[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _faults(kit: Kit, lens: Lens | None, lines: tuple[str, ...]) -> str:
    """What the rules of rigs say against it, or an empty text."""
    import tomllib

    worn = Worn.model_validate(
        {**tomllib.loads("\n".join(lines)), "files": ["x"], **({"lens": lens.id} if lens else {})}
    )
    return next((f.text for f in rig_faults(worn, kit) if f.level == "error"), "")


MOST_QUESTIONS = 5
HEAD = (
    "# Drafted from the exposures. Look at each span, correct it, and take its line\n"
    '# source = "estimated" out: then it is your word. Comments declare nothing.\n'
    "# Grads and polarisers hardly show in an exposure: add them where they were on.\n"
)


@dataclass(frozen=True)
class Span:
    """Frames next to each other for which the exposures say the same. `sets` are filter sets, best first."""

    folder: str
    frames: tuple[str, ...]
    text: str
    sure: str
    question: str


@dataclass(frozen=True)
class FolderDraft:
    """What would be added to the declaration of one folder; `existing` whether it has one."""

    folder: str
    existing: bool
    spans: tuple[Span, ...]

    @property
    def text(self) -> str:
        """The addition, ready to stand at the end of the file."""
        return ("" if self.existing else HEAD + "\n") + "\n\n".join(span.text for span in self.spans) + "\n"


def draft(frames: pd.DataFrame, kit: Kit, declared: Collection[str]) -> list[FolderDraft]:
    """A draft for each folder with frames that nothing covers.

    `frames` has the join and estimate columns; `declared` are the folders that have a declaration: a frame
    below one of them is drafted there, others in their own folder.
    """
    index = frame_index(frames)
    rows = records(frames)
    found: dict[str, list[Span]] = {}
    for run in _runs(index, rows):
        home = _home(index.folders[run[0]], declared)
        found.setdefault(home, []).append(_span(run, rows, index, kit, home))
    return [FolderDraft(home, home in declared, tuple(spans)) for home, spans in sorted(found.items())]


def questions(drafts: Iterable[FolderDraft]) -> list[str]:
    """At most a handful, those that settle most frames first."""
    spans = [span for folder in drafts for span in folder.spans if span.question]
    spans.sort(key=lambda s: (-len(s.frames), s.frames))
    return [span.question for span in spans[:MOST_QUESTIONS]]


def _runs(index: FrameIndex, rows: list[dict[Any, Any]]) -> Iterator[list[int]]:
    """Undeclared frames of one body and folder that follow one another and are estimated alike."""
    for sequence in sorted(index.order):

        def alike(row: int) -> tuple[bool, str, str, bool, str]:
            one = rows[row]
            # A marker stands between two spans.
            silent = one["declaration"] == "undeclared" and one["sequence"] != "marker"
            told = one["estimated_class"] if silent and pd.notna(one["estimated_class"]) else ""
            lens = one["lens_id"] if pd.notna(one["lens_id"]) else ""
            return told != "", index.folders[row], told, one["estimated_sure"] == "unsure", lens

        for (silent, *_), members in groupby(index.order[sequence], key=alike):
            if silent:
                yield list(members)


def _home(folder: str, declared: Collection[str]) -> str:
    above = [d for d in declared if d == "." or folder == d or folder.startswith(d + "/")]
    return max(above, key=lambda d: -1 if d == "." else len(d), default=folder)


def _span(run: list[int], rows: list[dict[Any, Any]], index: FrameIndex, kit: Kit, home: str) -> Span:
    first = rows[run[0]]
    sets = [tuple(one.split("+")) if one else () for one in first["estimated_sets"]]
    lens = kit.lens(first["lens_id"]) if isinstance(first["lens_id"], str) else None
    rig = rig_lines(kit, lens, sets[0])
    sure = _sure([rows[row]["estimated_sure"] for row in run])
    least = min(float(rows[row]["estimated_probability"]) for row in run)
    lines = ["[[worn]]", f"# {sure} ({100 * least:.0f} %): {first['estimated_words']}"]
    words = str(first["estimated_plain"])
    asked = sure == "unsure" or bool(first["estimated_several"])
    lines += [f"# {words}", _files(run, index, home)]
    lines += rig.lines
    if rig.rings:
        lines.append(f"# ring could be {' or '.join(rig.rings)} as well: no exposure tells")
    if rig.why:
        lines.append(f"# {rig.why}")
    lines.append('source = "estimated"')
    silent = sure == "unsure" or bool(rig.why)
    body = [line if line.startswith("#") or not silent else f"# {line}" for line in lines]
    frames = tuple(index.frames[row] for row in run)
    return Span(
        index.folders[run[0]], frames, "\n".join(body), sure, _question(run, index, words) if asked else ""
    )


def _sure(levels: list[str]) -> str:
    return next((level for level in ("unsure", "likely", "sure") if level in levels), "unsure")


def _files(run: list[int], index: FrameIndex, home: str) -> str:
    names = [index.short(run[0]), index.short(run[-1])]
    inside = index.folders[run[0]]
    if inside != home:
        below = inside if home == "." else inside[len(home) + 1 :]
        names = [f"{below}/{name}" for name in names]
    return "files = [" + ", ".join(tomlkit.item(name).as_string() for name in dict.fromkeys(names)) + "]"


def _question(run: list[int], index: FrameIndex, words: str) -> str:
    """What the photographer could settle."""
    many = f"{len(run)} frame{'' if len(run) == 1 else 's'}"
    return f"{index.short_range(run)} ({many}): {words}?"
