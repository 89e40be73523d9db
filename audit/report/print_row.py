"""One picture in a line of the print desk: what is printed of it, what its file is, what was found on it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pandas as pd

from audit.message.figures import number
from audit.message.text import joined, marked, say
from audit.optics.crop import SHAPES, Crop
from audit.optics.paper import A_SHEETS, CM_SHEETS, INCH_SHEETS, PPIS, largest
from audit.report.orders import fixed_cells, path_of
from audit.report.print_jobs import Job, sheet_name, worst_levels
from audit.report.words import known, text
from audit.result import Result

_SAME_RATIO = 0.005
"""Two shapes nearer than this are told by one name: crops are in whole pixels."""
_TOLD = ("act", "look")


@dataclass(frozen=True)
class PrintRow:
    """All as text, "" where not known; `found` holds (level, title of the check).

    `order` is what the script needs for an order sheet, as JSON, `path` for a list to keep; `setup` counts
    setups by their first frames. `sheets` are those that it fills at the finest ppi, one of each series.
    """

    taken: str
    printed: str
    pixels: str
    shape: str
    file: str
    sheets: tuple[str, ...]
    found: tuple[tuple[str, str], ...]
    level: str
    setup: int
    width_px: int
    height_px: int
    order: str
    path: str


class PrintRows:
    """Lines of one audit."""

    def __init__(self, result: Result) -> None:
        titles = {run.info.id: run.info.title for run in result.checks}
        self._found: dict[str, dict[str, str]] = {}
        for finding in result.findings:
            if finding.level in _TOLD:
                for name in finding.frames:
                    self._found.setdefault(name, {}).setdefault(
                        titles.get(finding.check, finding.check), finding.level
                    )
        self._levels = worst_levels(result)
        order = result.frames.sort_values("captured_at", kind="stable", na_position="last")["setup"]
        self._setups = {name: n for n, name in enumerate(order.dropna().unique())}

    def of(self, job: Job) -> PrintRow:
        """The line of one print."""
        name, shown = text(job.row["frame"]), job.shown
        found = self._found.get(name, {})
        return PrintRow(
            taken=_taken(job.row["captured_at"]),
            printed=_printed(job),
            pixels=pixels(shown) if shown else "",
            shape=shape(shown.width_px, shown.height_px) if shown else "",
            file=_file(job.row),
            sheets=_sheets(shown.width_px, shown.height_px) if shown else (),
            found=tuple(
                sorted(((lv, title) for title, lv in found.items()), key=lambda f: _TOLD.index(f[0]))
            ),
            level=self._levels.get(name, ""),
            setup=self._setups.get(text(job.row["setup"]), len(self._setups)),
            width_px=shown.width_px if shown else 0,
            height_px=shown.height_px if shown else 0,
            order=json.dumps(fixed_cells(job)),
            path=path_of(job),
        )


def _taken(at: Any) -> str:
    return f"{pd.Timestamp(at):%Y-%m-%d %H:%M}" if known(at) else ""


def _printed(job: Job) -> str:
    """The clean crop by the share of the picture's area that it keeps, or all of it."""
    if job.size is None:
        return marked("size unknown")
    if job.crop:
        return say("clean crop to {share:.0f} %", share=100 * job.crop.share)
    return marked("whole picture")


@lru_cache(maxsize=1_000)
def _sheets(width_px: int, height_px: int) -> tuple[str, ...]:
    found = (largest(width_px, height_px, PPIS[0], s) for s in (A_SHEETS, CM_SHEETS, INCH_SHEETS))
    return tuple(sheet_name(placed.sheet) for placed in found if placed)


def pixels(crop: Crop) -> str:
    """Columns and rows, and megapixels."""
    mega = crop.width_px * crop.height_px / 1e6
    return say(
        "{width} x {height} px, {mega} megapixels",
        width=crop.width_px,
        height=crop.height_px,
        mega=number(mega, 1),
    )


def shape(width_px: int, height_px: int) -> str:
    """The ratio of the sides, by its usual name where it has one: 3:2, 2:3, else 1.43:1."""
    ratio = width_px / height_px
    for long, short in _shapes(SHAPES.values()):
        if abs(ratio / (long / short) - 1) < _SAME_RATIO:
            return f"{long}:{short}"
    return f"{number(ratio, 2)}:1" if ratio > 1 else f"1:{number(1 / ratio, 2)}"


def _shapes(named: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    sides = [*named, (4, 3)]
    return sides + [(short, long) for long, short in sides]


def _file(row: Mapping[str, Any]) -> str:
    """Format, bits of a channel, colour profile; what is not known is said to be."""
    bits = say("{bits} bits", bits=int(row["bit_depth"])) if known(row["bit_depth"]) else ""
    colour = text(row["colour_profile"]) or marked("colour profile not known")
    return joined([text(row["formats"]), bits or marked("bits not known"), colour], ", ")
