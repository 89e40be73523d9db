"""The page of one larger view as records for its template: the picture, its corners, those beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from audit.message.text import marked, say
from audit.report.diagram import Drawing
from audit.report.heat import Plate
from audit.report.original_links import Ways
from audit.report.pictures import Cut, Gallery, Shot
from audit.report.view_frames import FrameView
from audit.report.view_print import CropBox
from audit.report.words import text
from audit.result import Result

UP = "../"
"""From the folder of views to that of the other pages."""
CORNER_NAMES = (marked("top left"), marked("top right"), marked("bottom left"), marked("bottom right"))
NOTHING_BARE = marked("no bare frame of this setup with the same focal length")


@dataclass(frozen=True)
class Way:
    """A link within the views."""

    page: str
    name: str


@dataclass(frozen=True)
class Layers:
    """What can be drawn over the picture, and for each in words why it is not there, else ""."""

    cut: Drawing | None
    no_cut: str
    dark: Plate | None
    no_dark: str
    crop: CropBox | None
    no_crop: str


@dataclass(frozen=True)
class CornerCut:
    """One corner at full size, with that of the bare frame where there is one."""

    name: str
    own: Cut
    bare: Cut | None


@dataclass(frozen=True)
class Neighbour:
    """A frame of the setup by the middle of its picture; `here` is the page's own."""

    way: Way
    cut: Cut
    exposure: str
    here: bool


@dataclass(frozen=True)
class PictureView:
    """One page. `files` are names with their addresses, "" where no link may be given."""

    page: str
    frame: FrameView
    larger: Cut
    layers: Layers
    corners: tuple[CornerCut, ...]
    cut_from: str
    no_corners: str
    bare: Way | None
    no_bare: str
    beside: tuple[Neighbour, ...]
    files: tuple[tuple[str, str], ...]
    before: Way | None
    after: Way | None


def picture_views(
    result: Result, made: Gallery, frames: Sequence[FrameView], ways: Ways
) -> tuple[PictureView, ...]:
    """A page for each frame with a larger view, in the table's order; `ways` lead from the views' folder."""
    order = sorted(made.shots)
    around = (None, *order, None)
    return tuple(
        _view(result, made, frames, ways, n, (around[at], around[at + 2])) for at, n in enumerate(order)
    )


def _view(
    result: Result,
    made: Gallery,
    frames: Sequence[FrameView],
    ways: Ways,
    place: int,
    around: tuple[int | None, int | None],
) -> PictureView:
    shot, row = made.shots[place], result.rows[place]
    wanted, bare = place in made.plan.corners, made.plan.corners.get(place)
    pairs = _corners(shot, made.shots.get(bare) if bare is not None else None)
    return PictureView(
        page=shot.page,
        frame=frames[place],
        larger=shot.larger,
        layers=_layers(row, frames[place]),
        corners=pairs if wanted else (),
        cut_from=_cut_from(shot) if wanted and pairs else "",
        no_corners=_no_corners(shot) if wanted and not pairs else "",
        bare=_way(made, frames, bare),
        no_bare=NOTHING_BARE if wanted and bare is None and text(row["declaration"]) != "bare" else "",
        beside=_beside(made, frames, place),
        files=tuple((file, ways.to(file)) for file in frames[place].files),
        before=_way(made, frames, around[0]),
        after=_way(made, frames, around[1]),
    )


def _layers(row: Mapping[str, Any], frame: FrameView) -> Layers:
    drawing = frame.corner.drawing if frame.corner else None
    plate = frame.pixels.plate if frame.pixels else None
    no_cut = ""
    if drawing is None:
        no_cut = text(row["corner_why"]) or marked("nothing declared")
    elif drawing.nothing:
        no_cut = marked("no loss anywhere in the picture")
    reasons = (text(row[name]) for name in ("pair_why", "shown_loss_why", "pixel_why"))
    no_dark = "" if plate else next(filter(None, reasons), "") or marked("no bare frame to hold it against")
    return Layers(
        cut=None if no_cut else drawing,
        no_cut=no_cut,
        dark=plate,
        no_dark=no_dark,
        crop=frame.drawn,
        no_crop="" if frame.drawn else _no_crop(row),
    )


def _no_crop(row: Mapping[str, Any]) -> str:
    if text(row["corner_verdict"]) == "clear":
        return marked("none is needed")
    if text(row["corner_verdict"]) in ("cut", "at risk"):
        return marked("no part of this shape is clean")
    return marked("nothing is predicted to be cut away")


def _corners(shot: Shot, bare: Shot | None) -> tuple[CornerCut, ...]:
    """The corners by name; those of the bare frame where it has cuts of the same size."""
    beside = bare.corners if bare is not None and len(bare.corners) == len(shot.corners) else ()
    return tuple(
        CornerCut(name, own, beside[n] if beside else None)
        for n, (name, own) in enumerate(zip(CORNER_NAMES, shot.corners, strict=False))
    )


def _cut_from(shot: Shot) -> str:
    width, height = shot.seen.full_px
    return say(
        "{side} x {side} px of each corner, pixel for pixel, from {file} ({width} x {height} px)",
        side=shot.corners[0].width_px,
        file=shot.seen.file,
        width=width,
        height=height,
    )


def _no_corners(shot: Shot) -> str:
    return shot.seen.why_no_cuts or marked("the picture is too small to cut from")


def _way(made: Gallery, frames: Sequence[FrameView], place: int | None) -> Way | None:
    if place is None or place not in made.shots:
        return None
    return Way(PurePosixPath(made.shots[place].page).name, frames[place].name)


def _beside(made: Gallery, frames: Sequence[FrameView], place: int) -> tuple[Neighbour, ...]:
    """The frames of its setup that were cut from; nothing where it would stand alone."""
    found = []
    for n in made.beside(place):
        way, cut = _way(made, frames, n), made.shots[n].middle
        if way is not None and cut is not None:
            found.append(Neighbour(way, cut, frames[n].exposure, n == place))
    return tuple(found) if len(found) > 1 else ()
