"""Drafts of `filters.toml` from what the exposures say, in the words the photographer edits.

A span is drafted only where no declaration speaks. It carries `source = "estimated"` until the photographer
takes that line out; where the exposures do not tell, it is a comment and declares nothing. Where no neutral
was on, a grad or polariser may have been, for they hardly show: `neutral = "none"` says so, never `bare`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import pandas as pd

from audit.declare.answer import Answer
from audit.declare.draft_rig import RigLines, rig_lines
from audit.declare.homes import files_key, home_of, names_below
from audit.declare.index import FrameIndex, frame_index
from audit.declare.marks import ESTIMATED, NO_NEUTRAL, NO_RIG, WORDS, drafted
from audit.declare.spans import cover
from audit.declare.worn import Worn
from audit.kit.kit import Kit
from audit.message.shown import shown_line
from audit.table.columns import records

HEAD = "".join(
    f"{WORDS}{line}\n"
    for line in (
        "Drafted from the exposures; lines with two marks are words. Look at each span and correct it.",
        'Where you agree, take its line source = "estimated" out: then it is your word.',
        'neutral = "none" leaves open whether a grad or polariser was on; where nothing was, write bare =',
        "true in its place. Spans behind one mark declare nothing: take the first mark off each of their",
        "lines, and say what was worn. `cornerstop draft --accept likely` does that without an editor, and",
        "`--say` answers questions. `cornerstop draft --write` drafts again what you left as it was.",
    )
)
NO_NEUTRAL_KEY = 'neutral = "none"  # a grad or polariser may have been on'
MOST_SENTENCES = 3
"""Of the ways in which the frames of one span are undecided, so many are told."""


NAMED = 0.95
"""A likely frame with more chance is asked for because filters cost the same, or for a grad or polariser."""


@dataclass(frozen=True)
class Span:
    """Frames next to each other for which the exposures say the same.

    `rows` are those of the table, `place` the body and where in its order the first one stands; `names` are
    the frames as they are written in the declaration, `setups` that of each and `doubts` how open each is,
    from 0 to 1; `sets` the sets of neutrals it may have been; `asked` whether the photographer could settle
    it, `question` in which words.
    """

    folder: str
    rows: tuple[int, ...]
    place: tuple[str, int]
    frames: tuple[str, ...]
    names: tuple[str, ...]
    text: str
    sure: str
    sets: tuple[str, ...]
    setups: tuple[str | None, ...]
    doubts: tuple[float, ...]
    asked: bool
    range: str
    question: str


@dataclass(frozen=True)
class FolderDraft:
    """What is drafted for the declaration of one folder, and what the photographer has answered for it."""

    folder: str
    spans: tuple[Span, ...]
    answers: tuple[Answer, ...] = ()

    @property
    def pieces(self) -> list[Span | Answer]:
        """All of it in the order the frames were taken."""
        return sorted((*self.spans, *self.answers), key=lambda one: one.place)


def draft(
    frames: pd.DataFrame,
    kit: Kit,
    declared: Collection[str],
    left: Sequence[tuple[str, Worn]] = (),
    given: Iterable[Answer] = (),
) -> list[FolderDraft]:
    """A draft for each folder with frames that nothing covers, or with answers, which are `given`.

    `frames` has the join and estimate columns; `declared` are the folders that have a declaration: a frame
    below one of them is drafted there, others in their own folder. `left` are spans, with the folder of their
    declaration, whose frames are not to be drafted.
    """
    index = frame_index(frames)
    rows = records(frames)
    for folder, worn in left:
        for row in cover(worn, folder, index).rows.tolist():
            rows[row]["declaration"] = None
    found: dict[str, list[Span]] = {}
    for run in _runs(index, rows, kit):
        home = home_of(index.folders[run[0]], declared)
        found.setdefault(home, []).append(_span(run, rows, index, kit, home))
    answered: dict[str, list[Answer]] = {}
    for one in given:
        answered.setdefault(one.folder, []).append(one)
    return [
        FolderDraft(home, tuple(found.get(home, ())), tuple(answered.get(home, ())))
        for home in sorted({*found, *answered})
    ]


def _runs(index: FrameIndex, rows: list[dict[Any, Any]], kit: Kit) -> Iterator[list[int]]:
    """Undeclared frames of one body and folder that follow one another and of which the same is said."""

    def alike(row: int) -> tuple[bool, str, tuple[str, ...], bool, str]:
        one = rows[row]
        # A marker stands between two spans.
        silent = one["declaration"] == "undeclared" and one["sequence"] != "marker"
        silent = silent and pd.isna(one["other_trip"])
        if not silent or pd.isna(one["estimated_class"]):
            return False, index.folders[row], (), False, ""
        sets = tuple(one["estimated_sets"])
        named = isinstance(one["lens_id"], str) and sets[0] != ""
        unsure = one["estimated_sure"] == "unsure"
        return True, index.folders[row], sets, unsure, one["lens_id"] if named else ""

    for sequence in sorted(index.order):
        for (silent, *_), members in groupby(index.order[sequence], key=alike):
            if silent:
                yield list(members)


def _span(run: list[int], rows: list[dict[Any, Any]], index: FrameIndex, kit: Kit, home: str) -> Span:
    here = [rows[row] for row in run]
    sure = _sure([one["estimated_sure"] for one in here])
    sets = tuple(str(one) for one in here[0]["estimated_sets"])
    names = tuple(names_below(run, index, home))
    said = [words for words, _ in Counter(str(one["estimated_plain"]) for one in here).most_common()]
    asked = sure == "unsure" or any(bool(one["estimated_several"]) for one in here)
    return Span(
        index.folders[run[0]],
        tuple(run),
        (index.sequence[run[0]], index.place[run[0]]),
        tuple(index.frames[row] for row in run),
        names,
        _text(here, names, sure, said[:MOST_SENTENCES], kit),
        sure,
        sets,
        tuple(one["setup"] if isinstance(one["setup"], str) else None for one in here),
        tuple(_doubt(one) for one in here),
        asked,
        index.short_range(run),
        said[0],
    )


def _text(here: list[dict[Any, Any]], names: Sequence[str], sure: str, said: list[str], kit: Kit) -> str:
    """The span as it is written."""
    first = here[0]
    least = min(float(one["estimated_probability"]) for one in here)
    words = [f"{100 * least:.0f} %: {first['estimated_words']}", *said]
    keys = [files_key(names)]
    kind, rig = "", RigLines(())
    ids = tuple(first["estimated_sets"][0].split("+")) if first["estimated_sets"][0] else ()
    if ids:
        lens = kit.lens(first["lens_id"]) if isinstance(first["lens_id"], str) else None
        rig = rig_lines(kit, lens, ids)
        kind = NO_RIG if rig.why else ""
        words += [f"ring could be {' or '.join(rig.rings)} as well: no exposure tells"] if rig.rings else []
        words += [rig.why] if rig.why else []
    else:
        kind = NO_NEUTRAL
    if kind == NO_RIG:
        keys.append("unknown = true")
    else:
        keys += [NO_NEUTRAL_KEY] if kind == NO_NEUTRAL else rig.lines
    comment = sure == "unsure" or kind == NO_RIG
    # That it is unknown needs no second lock: once the marks are off, it is nobody's guess.
    keys += [] if kind == NO_RIG else [ESTIMATED]
    return drafted(keys, [shown_line(line) for line in words], sure, kind, comment=comment)


def _doubt(one: dict[Any, Any]) -> float:
    """How much of a frame an answer settles: all of it where nothing is known, or where it could be several.

    Of a likely one only what its chance leaves open: the answer will most often be what is drafted.
    """
    chance = float(one["estimated_probability"])
    if one["estimated_sure"] == "unsure" or len(one["estimated_sets"]) > 1 or chance >= NAMED:
        return 1.0
    return 1.0 - chance


def _sure(levels: list[str]) -> str:
    return next((level for level in ("unsure", "likely", "sure") if level in levels), "unsure")
