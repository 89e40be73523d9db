"""What is worth printing: each chosen frame or set once, with its size and crop, as stored and as shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from audit.finding import LEVELS
from audit.message.figures import number
from audit.message.text import joined, marked, plural, say
from audit.optics import paper
from audit.optics.crop import TURNS, Crop, oriented
from audit.optics.paper import A_SHEETS, CM_MATS, CM_SHEETS, INCH_MATS, INCH_SHEETS, MM_PER_INCH
from audit.prints.choose import PROPOSED
from audit.prints.print_set import BRACKET, PANORAMA, STACK, grouped, set_of
from audit.report.words import known, text
from audit.result import Result

TIMES = "\N{NO-BREAK SPACE}\N{MULTIPLICATION SIGN}\N{NO-BREAK SPACE}"
NONE = marked("too few pixels")


@dataclass(frozen=True)
class SizeRow:
    """The largest print at one number of pixels per inch."""

    ppi: str
    cm: str
    inches: str
    a_series: str
    photo_cm: str
    photo_in: str
    mat_cm: str
    mat_in: str
    window: str
    overview: str


@lru_cache(maxsize=1_000)  # most pictures of a trip are of one size
def size_row(width_px: int, height_px: int, ppi: int) -> SizeRow:
    """All that is said of one print of a picture of so many pixels."""
    size = paper.print_mm(width_px, height_px, ppi)
    seen = paper.overview_mm(*size)

    def on(sheets: tuple[paper.Sheet, ...]) -> str:
        return _placed(paper.largest(width_px, height_px, ppi, sheets))

    def ready(mats: tuple[paper.Mat, ...]) -> str:
        if found := _matted(paper.largest_mat(width_px, height_px, ppi, mats)):
            return found
        return NONE if paper.largest_mat(width_px, height_px, 0.0, mats) else marked("none of its shape")

    return SizeRow(
        ppi=at_ppi(ppi),
        cm=cm(size),
        inches=say("{sides}\N{NO-BREAK SPACE}in", sides=_sides(size, MM_PER_INCH)),
        a_series=on(A_SHEETS) or NONE,
        photo_cm=on(CM_SHEETS) or NONE,
        photo_in=on(INCH_SHEETS),
        mat_cm=ready(CM_MATS),
        mat_in=_matted(paper.largest_mat(width_px, height_px, ppi, INCH_MATS)),
        window=cm(paper.window_mm(*size)),
        overview=say(
            "{distance}, where {ppi:.0f} ppi do", distance=whole_cm(seen), ppi=paper.enough_ppi(seen)
        ),
    )


def _placed(placed: paper.Placed | None) -> str:
    if placed is None:
        return ""
    size = cm((placed.width_mm, placed.height_mm))
    return say(
        "{sheet}: picture {size}, {ppi:.0f} ppi", sheet=sheet_name(placed.sheet), size=size, ppi=placed.ppi
    )


def _matted(matted: paper.Matted | None) -> str:
    if matted is None:
        return ""
    mat, size, trimmed = (
        sheet_name(matted.mat.outer),
        sheet_name(matted.mat.print_size),
        100 * (1 - matted.kept),
    )
    if trimmed < 0.5:
        return say("{mat} for prints of {size}", mat=mat, size=size)
    return say("{mat} for prints of {size}, {trimmed:.0f} % trimmed", mat=mat, size=size, trimmed=trimmed)


def sheet_name(sheet: paper.Sheet) -> str:
    """The sheet's name, kept on one line."""
    sides, inches, _ = sheet.name.replace(" ", "\N{NO-BREAK SPACE}").partition("\N{NO-BREAK SPACE}in")
    return say("{sides}\N{NO-BREAK SPACE}in", sides=sides) if inches else sides


def at_ppi(ppi: int) -> str:
    """Pixels per inch as a text."""
    return say("{ppi} ppi", ppi=ppi)


def cm(sides_mm: tuple[float, float]) -> str:
    """Width and height in cm, kept on one line."""
    return say("{sides}\N{NO-BREAK SPACE}cm", sides=_sides(sides_mm, 10.0))


def whole_cm(mm: float) -> str:
    """A distance in whole cm."""
    return say("{distance} cm", distance=number(mm / 10, 0))


def _sides(sides_mm: tuple[float, float], unit_mm: float) -> str:
    return joined((number(side / unit_mm, 1) for side in sides_mm), TIMES)


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
    """Prints in the order of time; kept members of one set are one print, by the first of them.

    What was only proposed and has a finding to act on comes last.
    """
    levels = worst_levels(result)

    def place(row: Row) -> tuple[bool, bool, Any]:
        at, proposed = row["captured_at"], text(row["kept"]) == PROPOSED
        spoilt = proposed and levels.get(text(row["frame"])) == "act"
        return spoilt, not known(at), at if known(at) else 0

    kept = sorted((row for row in result.rows if known(row["kept"])), key=place)
    wanted = {key for row in kept if (key := set_of(row)) is not None}
    members = grouped(row for row in result.rows if set_of(row) in wanted) if wanted else {}
    return tuple(
        _job(chosen[0], kind, members.get((kind, name), chosen))
        for (kind, name), chosen in grouped(kept).items()
    )


def worst_levels(result: Result) -> dict[str, str]:
    """Frame to the worst level of a finding on it."""
    worst: dict[str, str] = {}
    for finding in sorted(result.findings, key=lambda f: LEVELS.index(f.level)):
        for name in finding.frames:
            worst.setdefault(name, finding.level)
    return worst


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
