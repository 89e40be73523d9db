"""The words of a print's sizes: the largest at a number of pixels per inch, its sheets, mats and distance."""

from __future__ import annotations

from dataclasses import dataclass

from audit.message.figures import number
from audit.message.text import joined, marked, say
from audit.optics import paper
from audit.optics.paper import A_SHEETS, CM_MATS, CM_SHEETS, INCH_MATS, INCH_SHEETS, MM_PER_INCH

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
    return say("{sheet}: picture {size}, {ppi:.0f} ppi", sheet=_name(placed.sheet), size=size, ppi=placed.ppi)


def _matted(matted: paper.Matted | None) -> str:
    if matted is None:
        return ""
    mat, size, trimmed = _name(matted.mat.outer), _name(matted.mat.print_size), 100 * (1 - matted.kept)
    if trimmed < 0.5:
        return say("{mat} for prints of {size}", mat=mat, size=size)
    return say("{mat} for prints of {size}, {trimmed:.0f} % trimmed", mat=mat, size=size, trimmed=trimmed)


def _name(sheet: paper.Sheet) -> str:
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
