"""The print desk: how large each chosen picture prints, on what paper, with which crop."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from audit.message.text import marked, plural, say
from audit.optics import paper
from audit.optics.crop import Crop
from audit.optics.paper import PPIS
from audit.prints.choose import PROPOSED, stars_of
from audit.report.links import Link
from audit.report.orders import HEADER
from audit.report.print_jobs import (
    TIMES,
    Job,
    SizeRow,
    at_ppi,
    cm,
    jobs,
    sheet_name,
    size_row,
    whole_cm,
)
from audit.report.print_row import PrintRow, PrintRows
from audit.report.thumbnails import Thumbnail
from audit.report.words import text
from audit.result import Result

PRINTS_A_PAGE = 100
"""A print with its sizes takes 4 to 9 kB, so a page stays below a megabyte."""


@dataclass(frozen=True)
class PrintPage:
    """One page: the print desk, or a part of it; `holds` says which prints, "" where it holds none."""

    file: str
    title: str
    holds: str
    items: tuple[PrintItem, ...]


def print_pages(items: Sequence[PrintItem], file: str) -> tuple[PrintPage, ...]:
    """The prints in order; `file` names the first page, its number is added to that of the others."""
    starts = range(0, max(len(items), 1), PRINTS_A_PAGE)
    stem, dot, ending = file.partition(".")
    return tuple(
        PrintPage(
            file if n == 1 else f"{stem}-{n}{dot}{ending}",
            _title(n, len(starts)),
            _holds(start + 1, min(start + PRINTS_A_PAGE, len(items))),
            tuple(items[start : start + PRINTS_A_PAGE]),
        )
        for n, start in enumerate(starts, start=1)
    )


def _title(part: int, parts: int) -> str:
    if parts == 1:
        return marked("Print desk")
    return say("Print desk, part {part} of {parts}", part=part, parts=parts)


def _holds(first: int, last: int) -> str:
    if first == last:
        return say("picture {first}", first=first)
    return say("pictures {first} to {last}", first=first, last=last) if first < last else ""


@dataclass(frozen=True)
class CropSizes:
    """The whole picture or its clean crop: pixels as shown, the crop as shown and as stored, and sizes."""

    title: str
    pixels: str
    shown: str
    stored: str
    rows: tuple[SizeRow, ...]


@dataclass(frozen=True)
class CropBox:
    """A crop to be drawn on a picture as shown, all in px of the full picture."""

    width: int
    height: int
    crop: Crop


@dataclass(frozen=True)
class PrintItem:
    """One print; `largest` is the best of it in a line, `drawn` the clean crop for the picture.

    `last` says that it was proposed in spite of a finding to act on, and so stands at the end.
    """

    anchor: str
    link: Link
    picture: Thumbnail
    alt: str
    how: str
    why: str
    note: str
    largest: str
    cuts: tuple[CropSizes, ...]
    drawn: CropBox | None
    row: PrintRow
    last: bool


@dataclass(frozen=True)
class PrintView:
    """The page: how the prints were chosen, from how far each ppi merges, and the prints.

    `anchors` leads from a frame to its print. `papers` are (name of a group, its sheets) to choose from,
    `columns` those of the order sheet.
    """

    chosen: str
    merging: tuple[tuple[str, str], ...]
    items: tuple[PrintItem, ...]
    anchors: Mapping[str, str]
    papers: tuple[tuple[str, tuple[PaperChoice, ...]], ...]
    columns: str = ",".join(HEADER)
    ppis: tuple[int, ...] = PPIS


@dataclass(frozen=True)
class PaperChoice:
    """A sheet to choose: its name, in the language and for the order sheet, and its sides in mm."""

    name: str
    plain: str
    sides: str


def print_view(
    result: Result, links: Mapping[str, Link], picture_of: Callable[[Mapping[str, Any]], Thumbnail]
) -> PrintView:
    """The print desk of one audit; `links` leads to each frame, `picture_of` gives the picture of a row."""
    found = jobs(result)
    names = [text(job.row["frame"]) for job in found]
    rows = PrintRows(result)
    return PrintView(
        chosen=_chosen(found),
        merging=tuple((at_ppi(ppi), whole_cm(paper.merging_mm(ppi))) for ppi in PPIS),
        items=tuple(
            _item(job, n, links, picture_of(job.row), rows.of(job)) for n, job in enumerate(found, start=1)
        ),
        anchors={name: _anchor(n) for n, name in enumerate(names, start=1)},
        papers=(
            (marked("A series"), _choices(paper.A_SHEETS)),
            (marked("photographic, cm"), _choices(paper.CM_SHEETS)),
            (marked("photographic, inches"), _choices(paper.INCH_SHEETS)),
        ),
    )


def _choices(sheets: tuple[paper.Sheet, ...]) -> tuple[PaperChoice, ...]:
    return tuple(PaperChoice(sheet_name(s), s.name, f"{s.short_mm:g}x{s.long_mm:g}") for s in sheets)


def largest_words(job: Job) -> str:
    """The largest print of a frame at the finest ppi, whole and by its clean crop (or "")."""
    if job.shown_size is None or job.shown is None:
        return ""
    size = cm(paper.print_mm(*job.shown_size, PPIS[0]))
    if not job.crop:
        return say("{size} at {ppi} ppi", size=size, ppi=PPIS[0])
    cropped = cm(paper.print_mm(job.shown.width_px, job.shown.height_px, PPIS[0]))
    return say("{size} at {ppi} ppi, {cropped} by the clean crop", size=size, ppi=PPIS[0], cropped=cropped)


def drawn_crop(job: Job) -> CropBox | None:
    """The clean crop of a frame, to be drawn on its picture; None where there is none."""
    return CropBox(*job.shown_size, job.shown) if job.crop and job.shown and job.shown_size else None


def _anchor(number_: int) -> str:
    return f"print-{number_}"


def _chosen(found: tuple[Job, ...]) -> str:
    if not found:
        return marked("Nothing was chosen, and no frame could be proposed: none belongs to a setup.")
    how = {text(job.row["kept"]) for job in found}
    count = plural(len(found), "{n} picture", "{n} pictures")
    if how == {PROPOSED}:
        return say(
            "{pictures}, one for each setup, proposed since nothing was chosen. Name those you want in a "
            "file keep.txt in the dump, one a line, and audit again.",
            pictures=count,
        )
    if all(map(stars_of, how)):
        return say("{pictures}, chosen by the ratings 1 to 5 in XMP sidecars.", pictures=count)
    return say("{pictures}, chosen in keep.txt.", pictures=count)


def _item(job: Job, number_: int, links: Mapping[str, Link], picture: Thumbnail, row: PrintRow) -> PrintItem:
    name = text(job.row["frame"])
    link = links.get(name, Link("", name))
    cuts = tuple(_cuts(job))
    return PrintItem(
        anchor=_anchor(number_),
        link=link,
        picture=picture,
        alt=say("{frame}, as it is shown", frame=link.text),
        how=_how(text(job.row["kept"])),
        why=text(job.row["kept_why"]),
        note=job.note,
        largest=_largest(cuts),
        cuts=cuts,
        drawn=drawn_crop(job),
        row=row,
        last=row.level == "act" and text(job.row["kept"]) == PROPOSED,
    )


def _how(kept: str) -> str:
    """How it was chosen, in words: "proposed", "rating 4", or "chosen" where the reason names the file."""
    if kept == PROPOSED:
        return marked("proposed")
    stars = stars_of(kept)
    return say("rating {stars}", stars=stars) if stars else marked("chosen")


def _largest(cuts: tuple[CropSizes, ...]) -> str:
    """The largest print at the finest ppi, of the clean crop where there is one."""
    if not cuts:
        return marked("size unknown")
    size = cuts[-1].rows[0].cm
    if len(cuts) > 1:
        return say("{size} at {ppi} ppi by the clean crop", size=size, ppi=PPIS[0])
    return say("{size} at {ppi} ppi", size=size, ppi=PPIS[0])


def _cuts(job: Job) -> list[CropSizes]:
    if job.size is None or job.shown_size is None:
        return []
    whole = Crop(0, 0, *job.shown_size, 1.0)
    cuts = [_cut(marked("whole picture"), whole, None)]
    if job.crop and job.shown:
        title = say("clean crop to {share:.0f} %", share=100 * job.crop.share)
        cuts.append(_cut(title, job.shown, job.crop))
    return cuts


def _cut(title: str, shown: Crop, stored: Crop | None) -> CropSizes:
    """`stored` None: all of the picture, so that no rectangle need be told."""
    rows = tuple(size_row(shown.width_px, shown.height_px, ppi) for ppi in PPIS)
    return CropSizes(
        title,
        say("{sides} px", sides=f"{shown.width_px}{TIMES}{shown.height_px}"),
        *((_rectangle(shown), _rectangle(stored)) if stored else ("", "")),
        rows,
    )


def _rectangle(crop: Crop) -> str:
    return say(
        "left {left}, top {top}, width {width}, height {height}",
        left=crop.left_px,
        top=crop.top_px,
        width=crop.width_px,
        height=crop.height_px,
    )
