"""How large a picture prints: pixels against paper, mat and eye.

A print's size is its pixels over the pixels per inch. On a sheet the whole picture is placed as large as the
sheet allows, nothing trimmed; sheets turn with the picture. Under a mat the picture fills the window and runs
3 mm further on each side, so it may have to be trimmed to the window's shape.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor, hypot, radians, tan

MM_PER_INCH = 25.4
PPIS = (300, 240, 180)
"""Pixels per inch of a fine, a good and a plain print (common practice, no source)."""
UNDER_MAT_MM = 3.0
"""What the mat covers of the print on each side."""
LEAST_KEPT = 0.95
"""A common mat is named where no more than a twentieth of the picture is trimmed for its window."""
ACUITY_DEG = 1 / 60
"""Detail that normal sight just tells apart: one arcminute (visual acuity 1.0, ISO 8596; from memory)."""
NEAREST_MM = 250.0
"""Nobody looks from nearer: the least distance of distinct vision, by convention (from memory)."""
_SLACK = 1e-9
_A_NUMBERS = range(7)


@dataclass(frozen=True)
class Sheet:
    """A size of paper.

    Attributes
    ----------
    name : as the trade calls it [-]
    short_mm : short side [mm]
    long_mm : long side [mm]
    """

    name: str
    short_mm: float
    long_mm: float


@dataclass(frozen=True)
class Mat:
    """A mat for prints of one size: its window shows the print but for `UNDER_MAT_MM` a side.

    Attributes
    ----------
    print_size : of the print behind it [-]
    outer : size of the mat itself [-]
    """

    print_size: Sheet
    outer: Sheet

    @property
    def window_mm(self) -> tuple[float, float]:
        """Short and long side of the window [mm]."""
        return window_mm(self.print_size.short_mm, self.print_size.long_mm)


@dataclass(frozen=True)
class Placed:
    """The whole picture on a sheet.

    Attributes
    ----------
    sheet : it is printed on [-]
    width_mm : of the picture as shown [mm]
    height_mm : of the picture as shown [mm]
    ppi : pixels per inch [px/in]
    """

    sheet: Sheet
    width_mm: float
    height_mm: float
    ppi: float


@dataclass(frozen=True)
class Matted:
    """The picture behind a mat.

    Attributes
    ----------
    mat : it lies behind [-]
    ppi : pixels per inch [px/in]
    kept : share of the picture that is not trimmed, 0 to 1 [1]
    """

    mat: Mat
    ppi: float
    kept: float


def iso_a(number: int) -> Sheet:
    """A sheet of the A series: A0 has 1 m2 and sides as 1 to the root of 2, each next is the half.

    Sides are whole mm. A0's are the nearest (841, 1189); a halved side loses its half mm, as the published
    table has it: A1 is 594 x 841 where rounding the unrounded half would give 595.

    Parameters
    ----------
    number : 0 for A0, and on [1]

    Returns
    -------
    the sheet [-]

    Source
    ------
    ISO 216 and its published table.
    """
    short, long = round(1000 * 2**-0.25), round(1000 * 2**0.25)
    for _ in range(number):
        short, long = floor(long / 2), short
    return Sheet(f"A{number}", float(short), float(long))


def _cm(short: float, long: float) -> Sheet:
    """A sheet by its sides in cm."""
    return Sheet(f"{short:g} \N{MULTIPLICATION SIGN} {long:g} cm", 10.0 * short, 10.0 * long)


def _inches(short: float, long: float) -> Sheet:
    """A sheet by its sides in inches."""
    return Sheet(f"{short:g} \N{MULTIPLICATION SIGN} {long:g} in", MM_PER_INCH * short, MM_PER_INCH * long)


A_SHEETS = tuple(iso_a(number) for number in _A_NUMBERS)

CM_SHEETS = tuple(
    _cm(*sides)
    for sides in (
        *((9, 13), (10, 15), (13, 18), (18, 24), (20, 30), (24, 30), (30, 40), (30, 45), (40, 50)),
        *((40, 60), (50, 60), (50, 70), (50, 75), (60, 80), (60, 90), (70, 100)),
    )
)
"""By their nominal cm (to 13 x 18: Wikipedia, "Photo print sizes"; larger: common practice, no source)."""

INCH_SHEETS = tuple(
    _inches(*sides)
    for sides in (
        *((4, 6), (5, 7), (8, 10), (8, 12), (11, 14), (12, 18), (16, 20), (16, 24), (20, 24)),
        *((20, 30), (24, 36)),
    )
)
"""By their nominal inches (Wikipedia, "Photo print sizes"; 24 x 36: common practice, no source)."""

CM_MATS = (
    *(
        Mat(_cm(*inner), _cm(*outer))
        for inner, outer in (
            *(((13, 18), (18, 24)), ((18, 24), (24, 30)), ((20, 30), (30, 40)), ((24, 30), (30, 40))),
            *(((30, 40), (40, 50)), ((30, 45), (40, 60)), ((40, 50), (50, 60)), ((40, 60), (50, 70))),
            *(((50, 70), (70, 100)), ((60, 90), (70, 100))),
        )
    ),
    *(Mat(iso_a(number), _cm(*outer)) for number, outer in ((4, (30, 40)), (3, (40, 50)), (2, (50, 70)))),
)
INCH_MATS = tuple(
    Mat(_inches(*inner), _inches(*outer))
    for inner, outer in (
        *(((5, 7), (8, 10)), ((8, 10), (11, 14)), ((8, 12), (12, 16)), ((11, 14), (16, 20))),
        *(((12, 18), (18, 24)), ((16, 20), (20, 24)), ((16, 24), (20, 30)), ((20, 30), (24, 36))),
    )
)
"""Mats sold ready for prints of one size, with their outer size (common practice, no source)."""


def print_mm(width_px: int, height_px: int, ppi: float) -> tuple[float, float]:
    """Width and height of a print: pixels over pixels per inch.

    Parameters
    ----------
    width_px : of the picture [px]
    height_px : of the picture [px]
    ppi : pixels per inch, above 0 [px/in]

    Returns
    -------
    width and height [mm]

    Source
    ------
    Definition; an inch is 25.4 mm.
    """
    return MM_PER_INCH * width_px / ppi, MM_PER_INCH * height_px / ppi


def window_mm(width_mm: float, height_mm: float) -> tuple[float, float]:
    """Window of a mat cut to measure: `UNDER_MAT_MM` of the print lies under each side.

    Parameters
    ----------
    width_mm : of the print [mm]
    height_mm : of the print [mm]

    Returns
    -------
    width and height; 0 where nothing is left [mm]

    Source
    ------
    Common practice, no source.
    """
    return max(width_mm - 2 * UNDER_MAT_MM, 0.0), max(height_mm - 2 * UNDER_MAT_MM, 0.0)


def place(width_px: int, height_px: int, sheet: Sheet) -> Placed:
    """The whole picture as large as a sheet allows, long side along the sheet's long side.

    Parameters
    ----------
    width_px : of the picture, 1 or more [px]
    height_px : of the picture, 1 or more [px]
    sheet : any size [-]

    Returns
    -------
    the picture on the sheet [-]

    Source
    ------
    Geometry.
    """
    long, short = max(width_px, height_px), min(width_px, height_px)
    mm_per_px = min(sheet.long_mm / long, sheet.short_mm / short)
    return Placed(sheet, mm_per_px * width_px, mm_per_px * height_px, MM_PER_INCH / mm_per_px)


def largest(width_px: int, height_px: int, ppi: float, sheets: Iterable[Sheet]) -> Placed | None:
    """The sheet on which the picture is largest with enough pixels per inch.

    Of sheets that hold it equally large, the smallest.

    Parameters
    ----------
    width_px : of the picture, 1 or more [px]
    height_px : of the picture, 1 or more [px]
    ppi : the least pixels per inch [px/in]
    sheets : to choose from [-]

    Returns
    -------
    the picture on that sheet; None where it fills none [-]

    Source
    ------
    Geometry.
    """
    placed = (place(width_px, height_px, sheet) for sheet in sheets)
    enough = [one for one in placed if one.ppi >= ppi * (1 - _SLACK)]
    return min(
        enough,
        key=lambda one: (-round(one.width_mm * one.height_mm, 3), one.sheet.short_mm * one.sheet.long_mm),
        default=None,
    )


def behind(width_px: int, height_px: int, mat: Mat) -> Matted:
    """The picture trimmed to the mat's print size, which it fills.

    Parameters
    ----------
    width_px : of the picture, 1 or more [px]
    height_px : of the picture, 1 or more [px]
    mat : any size [-]

    Returns
    -------
    the picture behind the mat [-]

    Source
    ------
    Geometry.
    """
    long, short = max(width_px, height_px), min(width_px, height_px)
    across, down = mat.print_size.long_mm / long, mat.print_size.short_mm / short
    return Matted(mat, MM_PER_INCH / max(across, down), min(across, down) / max(across, down))


def largest_mat(width_px: int, height_px: int, ppi: float, mats: Iterable[Mat]) -> Matted | None:
    """The largest mat that the picture fills with enough pixels per inch and `LEAST_KEPT` of it kept.

    Parameters
    ----------
    width_px : of the picture, 1 or more [px]
    height_px : of the picture, 1 or more [px]
    ppi : the least pixels per inch [px/in]
    mats : to choose from [-]

    Returns
    -------
    the picture behind that mat; None where it fills none [-]

    Source
    ------
    Geometry; how much may be trimmed: common practice, no source.
    """
    tried = (behind(width_px, height_px, mat) for mat in mats)
    enough = [one for one in tried if one.ppi >= ppi * (1 - _SLACK) and one.kept >= LEAST_KEPT]
    return max(enough, key=lambda one: one.mat.print_size.short_mm * one.mat.print_size.long_mm, default=None)


def merging_mm(ppi: float) -> float:
    """Distance from which pixels merge, since one spans `ACUITY_DEG`: d = 25.4 mm / ppi / tan(1/60 deg).

    Parameters
    ----------
    ppi : pixels per inch, above 0 [px/in]
        NaN gives NaN.

    Returns
    -------
    distance [mm]

    Source
    ------
    Geometry; one minute of arc: visual acuity 1.0, ISO 8596, from memory.
    """
    return MM_PER_INCH / ppi / tan(radians(ACUITY_DEG))


def enough_ppi(distance_mm: float) -> float:
    """Pixels per inch that merge at a distance: `merging_mm` the other way round.

    Parameters
    ----------
    distance_mm : above 0 [mm]
        NaN gives NaN.

    Returns
    -------
    pixels per inch [px/in]

    Source
    ------
    Geometry; one minute of arc: visual acuity 1.0, ISO 8596, from memory.
    """
    return merging_mm(1.0) / distance_mm


def overview_mm(width_mm: float, height_mm: float) -> float:
    """Distance from which a print is seen at a glance: its diagonal, but no nearer than `NEAREST_MM`.

    Parameters
    ----------
    width_mm : of the print [mm]
    height_mm : of the print [mm]

    Returns
    -------
    distance; NaN where a side is NaN [mm]

    Source
    ------
    Common practice, no source; the least distance of distinct vision by convention, from memory.
    """
    return max(hypot(width_mm, height_mm), NEAREST_MM)
