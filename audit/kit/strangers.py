"""Bodies and lenses of a dump that the kit lacks, with what of the kit was likely meant for them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher
from typing import Any, NamedTuple

import pandas as pd

from audit.kit.kit import Kit
from audit.kit.rules import folded
from audit.kit.sense_lens import named_range
from audit.message.text import marked, plural, say

ALIKE = 0.7
"""Names that share so much are likely one, by difflib's ratio: assumed."""


class Stranger(NamedTuple):
    """A body or lens as the dump writes it, in how many frames, and what of the kit is nearest."""

    key: str
    name: str
    frames: int
    nearest: str | None

    @property
    def words(self) -> str:
        """In one line what matches nothing, and what to write."""
        if self.nearest is None and self.key == "model":
            return plural(
                self.frames,
                'no [[body]] stands for the "{lens_name}" of {n} frame',
                'no [[body]] stands for the "{lens_name}" of {n} frames',
                lens_name=self.name,
            )
        if self.nearest is None:
            return plural(
                self.frames,
                'no [[lens]] names "{lens_name}" in exif, the lens of {n} frame',
                'no [[lens]] names "{lens_name}" in exif, the lens of {n} frames',
                lens_name=self.name,
            )
        held = plural(self.frames, "({n} frame)", "({n} frames)")
        said = {"known_name": self.nearest, "new_name": self.name, "held": held}
        if self.key == "model" and folded(self.nearest) == folded(self.name):
            words = marked('serial of "{known_name}" matches no frame; the dump holds another one {held}')
        elif self.key == "model":
            words = marked('model "{known_name}" matches no frame; the dump holds "{new_name}" {held}')
        else:
            words = marked('lens "{known_name}" matches no frame; the dump holds "{new_name}" {held}')
        return say(words, **said)


def missing(
    frames: pd.DataFrame, labels: Sequence[str | None], lens_ids: Sequence[str | None], kit: Kit
) -> dict[str, list[Any]]:
    """Four columns by name, row by row: whether the kit lacks body or lens, and the nearest it has."""
    models = [_text(value) for value in frames["model"]]
    names = [_text(value) for value in frames["lens"]]
    own = {body.name for body in kit.bodies}
    bodies = [
        bool(kit.bodies) and model is not None and label not in own
        for model, label in zip(models, labels, strict=True)
    ]
    lenses = [
        bool(kit.lenses) and name is not None and id is None for name, id in zip(names, lens_ids, strict=True)
    ]
    used = {*labels}, {*lens_ids}
    idle_bodies = [body for body in kit.bodies if body.name not in used[0]]
    idle_lenses = [lens for lens in kit.lenses if lens.id not in used[1] and not lens.no_contacts]
    to_body = [body.model for body in idle_bodies]
    to_lens = [name for lens in idle_lenses for name in lens.exif]
    return {
        "body_missing": bodies,
        "body_nearest": _each(models, bodies, to_body),
        "lens_missing": lenses,
        "lens_nearest": _each(names, lenses, to_lens),
    }


def _each(names: Sequence[str | None], wanted: Sequence[bool], known: Sequence[str]) -> list[str | None]:
    """The nearest for each name that is wanted, looked for once."""
    found = {
        name: nearest(name, known) for name in {n for n, w in zip(names, wanted, strict=True) if w and n}
    }
    return [found.get(name or "") if want else None for name, want in zip(names, wanted, strict=True)]


def strangers(frames: pd.DataFrame) -> list[Stranger]:
    """Each body and lens that the kit lacks once, those with the most frames first."""
    found = []
    lens = frames["lens_missing"].fillna(False) & frames["lens_id"].isna()
    for key, column, near, part in (
        ("model", "model", "body_nearest", frames[frames["body_missing"].fillna(False)]),
        ("exif", "lens", "lens_nearest", frames[lens]),
    ):
        for name, rows in part.groupby(column, sort=True):
            nearest = rows[near].iloc[0]
            found.append(Stranger(key, str(name), len(rows), nearest if isinstance(nearest, str) else None))
    return sorted(found, key=lambda one: (one.nearest is None, -one.frames, one.name))


def nearest(name: str, known: Iterable[str]) -> str | None:
    """What is called most alike; None where nothing is."""
    best = max(((_alike(name, other), other) for other in known), default=(0.0, ""))
    return best[1] if best[0] >= ALIKE else None


def _alike(one: str, other: str) -> float:
    """From 0 to 1: part of the other name, or alike letter by letter behind the words that both begin with.

    Two lenses whose names tell their focal lengths are alike where these are the same.
    """
    spans = named_range(one), named_range(other)
    if None not in spans:
        return float(spans[0] == spans[1])
    mine, its = folded(one), folded(other)
    if f" {its} " in f" {mine} " or f" {mine} " in f" {its} ":
        return 1.0
    first, second = mine.split(), its.split()
    while first and second and first[0] == second[0]:
        first, second = first[1:], second[1:]
    return SequenceMatcher(None, " ".join(first), " ".join(second)).ratio()


def _text(value: object) -> str | None:
    return value if isinstance(value, str) and value.strip() else None
