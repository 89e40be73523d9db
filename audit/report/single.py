"""The whole trip as one plain file, to pass on: no script, no other file, at most MOST_BYTES.

A file that is mailed, or opened on a telephone, is read and not worked with: it has what the pages say, and
the trip in time, but no choosing. Narrowing, sorting and picking need a script, which mail programs do not
run; the pages have them. Of a long trip it shows the frames that something was found on, then those to print,
then others, as many as the file holds; it says how many it leaves out.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from audit.errors import AuditError
from audit.message.text import plural
from audit.report.language import ENGLISH, Language
from audit.report.site import SitePage, in_order, trip_strips
from audit.report.templating import environment
from audit.report.view import Page
from audit.report.view_frames import FrameView
from audit.result import Result

MOST_BYTES = 3_000_000
"""What one file may weigh, so that it can be mailed (common practice, no source)."""
MOST_FRAMES = 300
"""More on one page is too long to use."""
LEFT_OUT = "left-out"
"""Where links to a frame lead that is not shown."""
_ORDER = {"act": 0, "look": 1, "note": 3, "": 4}
_PRINT = 2


def single_page(result: Result, shown: Page, language: Language = ENGLISH) -> str:
    """The page's text. Raises AuditError where even without its frames it is too large."""
    count, strip = MOST_FRAMES, trip_strips(result.frames, [view.level for view in in_order(result, shown)])
    while True:
        text = _rendered(_with_frames(shown, count), strip, language)
        if len(text.encode()) <= MOST_BYTES:
            return text
        if not count:
            raise AuditError(
                f"--single: the findings alone are more than {MOST_BYTES // 1_000_000} MB; leave it out"
            )
        count //= 2


def _rendered(shown: Page, strip: Mapping[str, Any], language: Language) -> str:
    frames = [frame for folder in shown.folders for frame in folder.frames]
    out = shown.frame_count - len(frames)
    absent = {f"frame-{n}" for n in range(1, shown.frame_count + 1)} - {frame.anchor for frame in frames}
    plates = _plates(shown, frames)
    drawn = {f.corner.drawing.id: f.corner.drawing for f in frames if f.corner and f.corner.drawing}
    sheet = SitePage("report.html", shown.title, "report.html", "report.html", tuple(drawn.values()), plates)
    values: dict[str, Any] = {
        "site": SimpleNamespace(days=(), **strip),
        "left_out": plural(
            out,
            "{n} frame is left out here, which the report of several pages shows.",
            "{n} frames are left out here, which the report of several pages shows.",
        )
        if out
        else "",
    }
    told = environment(language=language, elsewhere=dict.fromkeys(absent, LEFT_OUT))
    template = told.get_template("report.html")
    return template.render(page=shown, sheet=sheet, marks={}, frame_level=4, detailed=False, **values)


def _plates(shown: Page, frames: Collection[FrameView]) -> tuple[Any, ...]:
    """The maps that findings and shown frames use."""
    rows = [row for groups in shown.groups.values() for group in groups for row in group.rows]
    used = {row.evidence.plate.id for row in rows if row.evidence and row.evidence.plate}
    used |= {frame.pixels.plate.id for frame in frames if frame.pixels and frame.pixels.plate}
    return tuple(plate for plate in shown.plates if plate.id in used)


def _with_frames(shown: Page, count: int) -> Page:
    """The page with at most so many frames, and the prints among them."""
    frames = [frame for folder in shown.folders for frame in folder.frames]
    if len(frames) <= count:
        return shown
    prints = {item.link.anchor for item in shown.desk.items}

    def rank(frame: FrameView) -> int:
        found = _ORDER[frame.level]
        return min(found, _PRINT) if frame.anchor in prints else found

    kept = {frame.anchor for frame in sorted(frames, key=rank)[:count]}
    folders = [
        replace(folder, frames=tuple(frame for frame in folder.frames if frame.anchor in kept))
        for folder in shown.folders
    ]
    items = tuple(item for item in shown.desk.items if item.link.anchor in kept)
    return replace(
        shown,
        folders=tuple(folder for folder in folders if folder.frames),
        desk=replace(shown.desk, items=items),
    )
