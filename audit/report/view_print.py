"""The print desk: how large each chosen picture prints, on what paper, with which crop."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from audit.model.chosen import PROPOSED
from audit.model.result import Result
from audit.optics import paper
from audit.optics.crop import Crop
from audit.optics.paper import A_SHEETS, CM_MATS, CM_SHEETS, INCH_MATS, INCH_SHEETS, MM_PER_INCH, PPIS
from audit.report.links import Link
from audit.report.print_jobs import Job, alone, jobs
from audit.report.thumbnails import Thumbnail
from audit.report.words import counted, number, text

TIMES = "\N{NO-BREAK SPACE}\N{MULTIPLICATION SIGN}\N{NO-BREAK SPACE}"
NONE = "too few pixels"


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


@dataclass(frozen=True)
class Cut:
    """The whole picture or its clean crop: pixels as shown, the crop as shown and as stored, and sizes."""

    title: str
    pixels: str
    shown: str
    stored: str
    rows: tuple[SizeRow, ...]


@dataclass(frozen=True)
class Frame:
    """A crop to be drawn on a picture as shown, all in px of the full picture."""

    width: int
    height: int
    crop: Crop


@dataclass(frozen=True)
class PrintItem:
    """One print; `largest` is the best of it in a line, `drawn` the clean crop for the picture."""

    anchor: str
    link: Link
    picture: Thumbnail
    alt: str
    how: str
    why: str
    note: str
    largest: str
    cuts: tuple[Cut, ...]
    drawn: Frame | None


@dataclass(frozen=True)
class PrintView:
    """The page: how the prints were chosen, from how far each ppi merges, and the prints.

    `anchors` leads from a frame to its print.
    """

    chosen: str
    merging: tuple[tuple[str, str], ...]
    items: tuple[PrintItem, ...]
    anchors: Mapping[str, str]


def print_view(
    result: Result, links: Mapping[str, Link], picture_of: Callable[[Mapping[str, Any]], Thumbnail]
) -> PrintView:
    """The print desk of one audit; `links` leads to each frame, `picture_of` gives the picture of a row."""
    found = jobs(result)
    names = [text(job.row["frame"]) for job in found]
    return PrintView(
        chosen=_chosen(found),
        merging=tuple((f"{ppi} ppi", f"{number(paper.merging_mm(ppi) / 10, 0)} cm") for ppi in PPIS),
        items=tuple(_item(job, n, links, picture_of(job.row)) for n, job in enumerate(found, start=1)),
        anchors={name: _anchor(n) for n, name in enumerate(names, start=1)},
    )


def largest_words(row: Mapping[str, Any]) -> str:
    """The largest print of a frame at the finest ppi, whole and by its clean crop (or "")."""
    job = alone(row)
    if job.shown_size is None or job.shown is None:
        return ""
    whole = f"{_cm(paper.print_mm(*job.shown_size, PPIS[0]))} at {PPIS[0]} ppi"
    cropped = _cm(paper.print_mm(job.shown.width_px, job.shown.height_px, PPIS[0]))
    return f"{whole}, {cropped} by the clean crop" if job.crop else whole


def drawn_crop(row: Mapping[str, Any]) -> Frame | None:
    """The clean crop of a frame, to be drawn on its picture; None where there is none."""
    return _drawn(alone(row))


def _drawn(job: Job) -> Frame | None:
    return Frame(*job.shown_size, job.shown) if job.crop and job.shown and job.shown_size else None


def _anchor(number_: int) -> str:
    return f"print-{number_}"


def _chosen(found: tuple[Job, ...]) -> str:
    if not found:
        return "Nothing was chosen, and no frame could be proposed: none belongs to a setup."
    how = {text(job.row["kept"]) for job in found}
    count = counted(len(found), "picture")
    if how == {PROPOSED}:
        return (
            f"{count}, one for each setup, proposed since nothing was chosen: first what is not clipped, of "
            "that the least corner loss, predicted or seen, of that the exposure nearest the setup's middle. "
            "Write the names of your own choice into a file keep.txt in the dump, one a line, or rate frames "
            "1 to 5 in their XMP sidecars."
        )
    if all(words.startswith("rating") for words in how):
        return f"{count}, chosen by the ratings 1 to 5 in XMP sidecars."
    return f"{count}, chosen in keep.txt."


def _item(job: Job, number_: int, links: Mapping[str, Link], picture: Thumbnail) -> PrintItem:
    name = text(job.row["frame"])
    link = links.get(name, Link("", name))
    cuts = tuple(_cuts(job))
    return PrintItem(
        anchor=_anchor(number_),
        link=link,
        picture=picture,
        alt=f"{link.text}, as it is shown",
        how=text(job.row["kept"]),
        why=text(job.row["kept_why"]),
        note=job.note,
        largest=_largest(cuts),
        cuts=cuts,
        drawn=_drawn(job),
    )


def _largest(cuts: tuple[Cut, ...]) -> str:
    """The largest print at the finest ppi, of the clean crop where there is one."""
    if not cuts:
        return "size unknown"
    row = cuts[-1].rows[0]
    return f"{row.cm} at {row.ppi}" + (" by the clean crop" if len(cuts) > 1 else "")


def _cuts(job: Job) -> list[Cut]:
    if job.size is None or job.shown_size is None:
        return []
    whole = Crop(0, 0, *job.shown_size, 1.0)
    cuts = [_cut("whole picture", whole, None)]
    if job.crop and job.shown:
        cuts.append(_cut(f"clean crop, {100 * job.crop.share:.0f} % of the area", job.shown, job.crop))
    return cuts


def _cut(title: str, shown: Crop, stored: Crop | None) -> Cut:
    """`stored` None: all of the picture, so that no rectangle need be told."""
    rows = tuple(_row(shown.width_px, shown.height_px, ppi) for ppi in PPIS)
    return Cut(
        title,
        f"{shown.width_px}{TIMES}{shown.height_px} px",
        *((_rectangle(shown), _rectangle(stored)) if stored else ("", "")),
        rows,
    )


def _rectangle(crop: Crop) -> str:
    return f"left {crop.left_px}, top {crop.top_px}, width {crop.width_px}, height {crop.height_px}"


def _row(width_px: int, height_px: int, ppi: int) -> SizeRow:
    size = paper.print_mm(width_px, height_px, ppi)
    seen = paper.overview_mm(*size)

    def on(sheets: tuple[paper.Sheet, ...]) -> str:
        return _placed(paper.largest(width_px, height_px, ppi, sheets))

    def ready(mats: tuple[paper.Mat, ...]) -> str:
        if found := _matted(paper.largest_mat(width_px, height_px, ppi, mats)):
            return found
        return NONE if paper.largest_mat(width_px, height_px, 0.0, mats) else "none of its shape"

    return SizeRow(
        ppi=f"{ppi} ppi",
        cm=_cm(size),
        inches=f"{_sides(size, MM_PER_INCH)}\N{NO-BREAK SPACE}in",
        a_series=on(A_SHEETS) or NONE,
        photo_cm=on(CM_SHEETS) or NONE,
        photo_in=on(INCH_SHEETS),
        mat_cm=ready(CM_MATS),
        mat_in=_matted(paper.largest_mat(width_px, height_px, ppi, INCH_MATS)),
        window=_cm(paper.window_mm(*size)),
        overview=f"{number(seen / 10, 0)} cm, where {paper.enough_ppi(seen):.0f} ppi do",
    )


def _placed(placed: paper.Placed | None) -> str:
    if placed is None:
        return ""
    size = _cm((placed.width_mm, placed.height_mm))
    return f"{_unbroken(placed.sheet)}: picture {size}, {placed.ppi:.0f} ppi"


def _matted(matted: paper.Matted | None) -> str:
    if matted is None:
        return ""
    trimmed = 100 * (1 - matted.kept)
    less = f", {trimmed:.0f} % trimmed" if trimmed >= 0.5 else ""
    return f"{_unbroken(matted.mat.outer)} for prints of {_unbroken(matted.mat.print_size)}{less}"


def _unbroken(sheet: paper.Sheet) -> str:
    """The sheet's name, kept on one line."""
    return sheet.name.replace(" ", "\N{NO-BREAK SPACE}")


def _cm(sides_mm: tuple[float, float]) -> str:
    return f"{_sides(sides_mm, 10.0)}\N{NO-BREAK SPACE}cm"


def _sides(sides_mm: tuple[float, float], unit_mm: float) -> str:
    return TIMES.join(number(side / unit_mm, 1) for side in sides_mm)
