"""Which lens of the kit took each frame."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from audit.kit.kit import Kit, Lens
from audit.kit.rules import folded
from audit.message.several import all_of
from audit.message.text import marked, say

FOCAL_TOLERANCE = 0.015
"""A focal length as written is rounded to whole millimetres or a percent; common practice, no source."""

COLUMNS = (
    "lens",
    "model",
    "problem",
    "focal_length_mm",
    "f_number",
    "lens_focal_min_mm",
    "lens_focal_max_mm",
)


class Seen(NamedTuple):
    """What a file says about its lens; None where it says nothing."""

    name: str | None
    focal_mm: float | None
    shortest_mm: float | None
    longest_mm: float | None
    f_number: float | None
    readable: bool


def add_lenses(frames: pd.DataFrame, kit: Kit) -> list[tuple[str | None, str | None]]:
    """(lens id, how it was matched or why not) of each frame, in row order."""
    known: dict[Seen, tuple[str | None, str | None]] = {}
    found = []
    for row in zip(*(frames[name].tolist() for name in COLUMNS), strict=True):
        seen = _seen(*row)
        if seen not in known:
            known[seen] = match(seen, kit)
        found.append(known[seen])
    return found


def match(seen: Seen, kit: Kit) -> tuple[str | None, str | None]:
    """The lens with that EXIF name, or the only one that can be meant, which is said to be assumed."""
    if not kit.lenses:
        return None, marked("the kit names no lens")
    if not seen.readable:
        return None, marked("the file says nothing about the camera")
    if seen.name is not None:
        for lens in kit.lenses:
            if folded(seen.name) in map(folded, lens.exif):
                return lens.id, marked("exif")
    fitting = [lens for lens in kit.lenses if _fits(lens, seen)]
    if len(fitting) == 1:
        return fitting[0].id, marked("assumed")
    if fitting:
        lenses = all_of([lens.id for lens in fitting])
        words = marked("{lenses} fit ({what}); name the lens in the span")
        return None, say(words, lenses=lenses, what=_told(seen))
    if seen.name is not None:
        return None, say('"{lens_name}" is in no exif list of the kit', lens_name=seen.name)
    return None, say("no lens of the kit fits ({what})", what=_told(seen))


def _told(seen: Seen) -> str:
    """What a file tells of its lens apart from the name."""
    if no_contacts(seen):
        return marked("no contacts")
    return say("{focal:g} mm", focal=seen.focal_mm) if seen.focal_mm else marked("no focal length")


def no_contacts(seen: Seen) -> bool:
    """A lens without contacts leaves name, focal length and f-number empty."""
    return seen.name is None and seen.focal_mm is None and seen.f_number is None


def _fits(lens: Lens, seen: Seen) -> bool:
    """Whether a lens can be the one: by contacts, by the range written, by the focal length."""
    if lens.no_contacts or no_contacts(seen):
        return lens.no_contacts and no_contacts(seen)
    if seen.name is not None and lens.exif:
        return False
    low, high = lens.focal_mm
    if seen.shortest_mm and seen.longest_mm:
        return _near(low, seen.shortest_mm) and _near(high, seen.longest_mm)
    if seen.focal_mm is None:
        return False
    slack = max(0.5, FOCAL_TOLERANCE * seen.focal_mm)
    return low - slack <= seen.focal_mm <= high + slack


def _near(a: float, b: float) -> bool:
    return abs(a - b) <= max(0.5, FOCAL_TOLERANCE * b)


def _seen(
    name: object, model: object, problem: object, focal: object, f_number: object, low: object, high: object
) -> Seen:
    readable = not isinstance(problem, str) and isinstance(model, str)
    text = name if isinstance(name, str) and name.strip() else None
    return Seen(text, _real(focal), _real(low), _real(high), _real(f_number), readable)


def _real(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and value == value and value > 0 else None
