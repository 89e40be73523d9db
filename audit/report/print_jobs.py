"""What is worth printing: each chosen frame or set once, with its size and crop, as stored and as shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audit.message.text import joined, marked, plural, say
from audit.optics.crop import TURNS, Crop, oriented
from audit.prints.print_set import BRACKET, PANORAMA, STACK, grouped, set_of
from audit.report.words import known, text
from audit.result import Result

Row = Mapping[str, Any]


@dataclass(frozen=True)
class Job:
    """One print. `size` and `crop` are in pixels of the picture as stored; None where not known, or no crop.

    `kind` is "" or that of the set that the frame stands for, `count` its frames.
    """

    row: Row
    kind: str
    count: int
    size: tuple[int, int] | None
    crop: Crop | None
    note: str

    @property
    def orientation(self) -> int:
        """EXIF's, 1 to 8; 1 where none was written."""
        told = self.row["orientation"]
        return int(told) if known(told) and int(told) in TURNS else 1

    @property
    def shown_size(self) -> tuple[int, int] | None:
        """Width and height as the picture is shown."""
        if self.size is None:
            return None
        return (self.size[1], self.size[0]) if TURNS[self.orientation][2] else self.size

    @property
    def stored(self) -> Crop | None:
        """What is printed, in pixels as stored: the clean crop, else all of it."""
        return self.crop or (Crop(0, 0, *self.size, 1.0) if self.size else None)

    @property
    def shown(self) -> Crop | None:
        """The same in pixels of the picture as shown."""
        stored = self.stored
        return oriented(stored, self.orientation, *self.size) if stored and self.size else None


def jobs(result: Result) -> tuple[Job, ...]:
    """Prints in the table's order; kept members of one set are one print, by the first of them."""
    kept = [row for row in result.rows if known(row["kept"])]
    wanted = {key for row in kept if (key := set_of(row)) is not None}
    members = grouped(row for row in result.rows if set_of(row) in wanted) if wanted else {}
    return tuple(
        _job(chosen[0], kind, members.get((kind, name), chosen))
        for (kind, name), chosen in grouped(kept).items()
    )


def alone(row: Row) -> Job:
    """A print of one frame, whatever set it belongs to."""
    return _job(row, "", [row])


def _job(row: Row, kind: str, members: list[Row]) -> Job:
    sizes = {_size(member) for member in members}
    size = None if kind == PANORAMA or len(sizes) > 1 else _size(row)
    crop = _crop(row) if size else None
    return Job(row, kind, len(members), size, crop, _note(row, kind, members, size, crop))


def _size(row: Row) -> tuple[int, int] | None:
    sides = row["width_px"], row["height_px"]
    return (int(sides[0]), int(sides[1])) if all(known(s) and s > 0 for s in sides) else None


def _crop(row: Row) -> Crop | None:
    """The clean crop, where it leaves something out and the picture does not show its corners whole."""
    if (
        _shown_clean(row)
        or not known(row["clean_crop"])
        or not known(row["clean_crop_share"])
        or row["clean_crop_share"] >= 1
    ):
        return None
    return Crop.read(text(row["clean_crop"]), float(row["clean_crop_share"]))


def _shown_clean(row: Row) -> bool:
    """Whether the corners of the picture refute the predicted loss: they show less than its best end."""
    shown, least = row["shown_loss_stops"], row["shown_predicted_min_stops"]
    return known(row["contradiction"]) and known(least) and shown < least


def _note(row: Row, kind: str, members: list[Row], size: tuple[int, int] | None, crop: Crop | None) -> str:
    parts = [_stands_for(kind, len(members))] if len(members) > 1 else []
    one = _size(row)
    if kind == PANORAMA:
        parts.append(marked("the size of the set is unknown until it is stitched"))
        if one:
            parts.append(say("one frame is {width} x {height} px as stored", width=one[0], height=one[1]))
    elif size is None:
        differ = marked("the size is unknown: its frames differ")
        parts.append(marked("its size is unknown") if one is None else differ)
    elif kind == STACK:
        parts.append(marked("blending may cost its edges, so this size is the most there is"))
    if _shown_clean(row):
        parts.append(marked("no crop: the picture shows its corners without what was declared"))
    elif text(row["corner_verdict"]) == "cut" and crop is None and kind != PANORAMA:
        parts.append(marked("corners cut, and no clean crop is known"))
    return joined(parts)


def _stands_for(kind: str, count: int) -> str:
    """What a set is; "" for frames that are none."""
    frames = plural(count, "{n} frame", "{n} frames")
    if kind == PANORAMA:
        return say("stands for a panorama of {frames}", frames=frames)
    if kind == BRACKET:
        return say("stands for a bracket of {frames}", frames=frames)
    return say("stands for a focus stack of {frames}", frames=frames) if kind == STACK else ""
