"""Answers of the photographer that come with the command, as spans in his own words.

`none` says that no neutral was on, `bare` that nothing was, `unknown` that it is forgotten; filters of the
kit, joined by "+", were on and no others. Ring and holder are those that the kit would carry them with.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import tomlkit

from audit.declare.draft_rig import rig_lines
from audit.declare.homes import files_key, home_of, names_below
from audit.declare.index import FrameIndex
from audit.declare.said import STATES, filters_said
from audit.declare.spans import cover
from audit.declare.worn import Declaration, Worn
from audit.errors import AuditError
from audit.kit.kit import Kit
from audit.message.shown import shown_line

UPTO = ".."


@dataclass(frozen=True)
class Said:
    """An answer as it was typed: `frames` is a frame or FIRST..LAST, `what` was on."""

    frames: str
    what: str


@dataclass(frozen=True)
class Answer:
    """A span of an answer for `rows` of the table, in the declaration of `folder`; `place` as in `Span`."""

    folder: str
    rows: tuple[int, ...]
    names: tuple[str, ...]
    place: tuple[str, int]
    text: str

    @property
    def worn(self) -> Worn:
        """The span as it will be read."""
        (span,) = tomllib.loads(self.text)["worn"]
        return Worn.model_validate(span)


def answers(
    said: Sequence[Said], rows: list[dict[str, Any]], index: FrameIndex, kit: Kit, declared: Collection[str]
) -> list[Answer]:
    """The spans of some answers; none for one that stands there already.

    `rows` are the frames with the join columns, `declared` the folders that have a declaration. Raises
    AuditError where frames or filters are not found, where the photographer has spoken of a frame already, or
    says two things of it.
    """
    found: list[Answer] = []
    taken: dict[int, str] = {}
    for one in said:
        ids = _filters(one.what, kit)
        frames = frames_of(one.frames, index)
        if _stands(frames, ids, one.what, rows):
            continue
        for row in frames:
            if row in taken:
                raise AuditError(
                    f"--say: {index.frames[row]} is in {taken[row]} and in {one.frames}; say it once"
                )
            if rows[row]["declaration"] != "undeclared":
                raise AuditError(
                    f"--say: {index.frames[row]} is declared already, at {rows[row]['declared_in']}; change "
                    "it there, or name only frames of which nothing is said"
                )
            taken[row] = one.frames
        found += _spans(one.what, ids, frames, rows, index, kit, declared)
    return found


def as_declarations(given: Sequence[Answer]) -> list[Declaration]:
    """The answers as declarations of their own, to be read before those that are written.

    In messages `--say:2` is the second span of them.
    """
    folders = sorted({one.folder for one in given})
    numbered = [(number, one) for number, one in enumerate(given, start=1)]
    return [
        Declaration(
            tuple(one.worn for _, one in numbered if one.folder == folder),
            "--say",
            folder,
            lines=tuple({"": number} for number, one in numbered if one.folder == folder),
        )
        for folder in folders
    ]


def frames_of(written: str, index: FrameIndex) -> list[int]:
    """The rows of a frame, or of FIRST..LAST in the order one body took them. Raises AuditError."""
    exact = {name: row for row, name in enumerate(index.frames)}
    readings = list(_readings(written))
    known = [names for names in readings if all(name in exact or index.named(name) for name in names)]
    names = known[0] if known else readings[-1]
    if all(name in exact for name in names):
        first, last = exact[names[0]], exact[names[-1]]
        body = index.sequence[first]
        if body == index.sequence[last] and index.place[first] <= index.place[last]:
            return index.order[body][index.place[first] : index.place[last] + 1]
    covered = cover(Worn(files=names), ".", index)
    if covered.faults:
        raise AuditError(f"--say: {covered.faults[0].text}")
    return [int(row) for row in covered.rows]


def frames_word(rows: Sequence[int], index: FrameIndex) -> str:
    """How `--say` takes these frames, which follow one another, and no others; "" where it cannot."""
    ends = list(dict.fromkeys((rows[0], rows[-1])))
    for name in (index.short, lambda row: index.frames[row]):
        word = UPTO.join(name(row) for row in ends)
        try:
            if not word.startswith("-") and frames_of(word, index) == list(rows):
                return word
        except AuditError:
            continue
    return ""


def _readings(written: str) -> Iterator[tuple[str, ...]]:
    """A name as a whole, then parted at each pair of dots."""
    yield (written,)
    at = written.find(UPTO, 1)
    while 0 < at < len(written) - len(UPTO):
        yield written[:at], written[at + len(UPTO) :]
        at = written.find(UPTO, at + 1)


def _filters(what: str, kit: Kit) -> tuple[str, ...]:
    """Ids of the filters that an answer names; none for a state. Raises AuditError."""
    ids, why = filters_said(what, kit)
    if why:
        raise AuditError(f"--say: {why}")
    return ids


def _stands(frames: list[int], ids: tuple[str, ...], what: str, rows: list[dict[str, Any]]) -> bool:
    """Whether the photographer has declared just that of all these frames."""
    state = {"none": "no-neutral"}.get(what, what if what in STATES else "worn")
    return all(
        rows[row]["declaration"] == state
        and rows[row]["declaration_source"] == "photographer"
        and sorted(rows[row]["filters"]) == sorted(ids)
        for row in frames
    )


def _spans(
    what: str,
    ids: tuple[str, ...],
    frames: list[int],
    rows: list[dict[str, Any]],
    index: FrameIndex,
    kit: Kit,
    declared: Collection[str],
) -> Iterator[Answer]:
    """One span for each declaration and each rig: lenses may take other rings."""
    known: dict[str | None, tuple[str, ...]] = {}

    def alike(row: int) -> tuple[str, tuple[str, ...]]:
        lens_id = rows[row]["lens_id"] if isinstance(rows[row]["lens_id"], str) else None
        if lens_id not in known:
            known[lens_id] = _keys(what, ids, lens_id, kit, index.frames[row])
        return home_of(index.folders[row], declared), known[lens_id]

    for (home, keys), members in groupby(frames, key=alike):
        run = list(members)
        names = tuple(names_below(run, index, home))
        place = index.sequence[run[0]], index.place[run[0]]
        text = "\n".join(("[[worn]]", f"# answered: {shown_line(what)}", files_key(names), *keys))
        yield Answer(home, tuple(run), names, place, text)


def _keys(what: str, ids: tuple[str, ...], lens_id: str | None, kit: Kit, frame: str) -> tuple[str, ...]:
    """What is said of a rig, as it is written for frames of a lens."""
    if not ids:
        ((key, value),) = STATES[what].items()
        return (f"{key} = {tomlkit.item(value).as_string()}",)
    rig = rig_lines(kit, kit.lens(lens_id) if lens_id else None, ids)
    if rig.why:
        raise AuditError(
            f"--say: {what} cannot be written for {frame}: {rig.why}; mend kit.toml, or write the span into "
            "filters.toml"
        )
    words = f"# ring could be {shown_line(' or '.join(rig.rings))} as well"
    return (words, *rig.lines) if rig.rings else rig.lines
