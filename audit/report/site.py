"""The report as pages: what stands on which, where each anchor lies, and the files of a run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pandas as pd
from jinja2 import Environment

from audit.disk.building import Building
from audit.message.text import marked, plural
from audit.report.causes import Cause, causes
from audit.report.days import DayPage, day_pages
from audit.report.diagram import Drawing
from audit.report.facets import Facet, Facets, Marks, within
from audit.report.heat import Plate
from audit.report.kit_use import KitUse, kit_use
from audit.report.language import ENGLISH, Language
from audit.report.ledger import LedgerRow, ledger
from audit.report.original_links import ways
from audit.report.picked import frames_script
from audit.report.picture_plan import Wish
from audit.report.pictures import FOLDER as PICTURES
from audit.report.pictures import PAGES, Progress, gallery
from audit.report.revisit import Revisit, revisits
from audit.report.since import Before
from audit.report.strip import StripView, strips
from audit.report.strip_data import day_lights
from audit.report.templating import environment, script, style_sheet
from audit.report.view import Page, page
from audit.report.view_frames import FrameView, frame_links
from audit.report.view_pictures import UP, picture_views
from audit.report.view_print import PrintPage, print_pages
from audit.result import Result

FRONT, FINDINGS, AGAIN, FRAMES, PRINT, KIT, METHOD, PASSED = (
    f"{name}.html"
    for name in ("index", "findings", "go-back", "frames", "print", "kit", "method", "passed-over")
)
PIECES = 1_000
"""Pieces of a template that are written together."""
FIXED = {
    "mistakes": FINDINGS,
    "note": FINDINGS,
    "go-back": AGAIN,
    "print": PRINT,
    "print-how": PRINT,
    "assumed": KIT,
    "filters": KIT,
    "pixels": METHOD,
    "counts": METHOD,
    "passed-over": PASSED,
}
"""Anchors that stand on one page whatever the trip holds."""


@dataclass(frozen=True)
class SitePage:
    """One page to write; `tab` is the entry of the contents it belongs to."""

    file: str
    name: str
    template: str
    tab: str
    drawings: tuple[Drawing, ...] = ()
    plates: tuple[Plate, ...] = ()
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Site:
    """What the pages share beside the records of the trip."""

    contents: tuple[tuple[str, str], ...]
    act: tuple[Cause, ...]
    look: tuple[Cause, ...]
    strips: tuple[StripView, ...]
    has_sky: bool
    timeless: str
    days: tuple[DayPage, ...]
    again: tuple[Revisit, ...]
    prints: tuple[PrintPage, ...]
    ledger: tuple[LedgerRow, ...]
    use: KitUse


class PictureFiles:
    """Thumbnails as files beside the pages, p1.jpg, p2.jpg ... in order of first use."""

    def __init__(self, run: Building) -> None:
        self._run, self._count = run, 0

    def keep(self, jpeg: bytes) -> str:
        """Writes one picture and gives its address in a page."""
        self._count += 1
        name = f"{PICTURES}/p{self._count}.jpg"
        self._run.write(name, jpeg)
        return name


def write_pages(
    result: Result,
    run: Building,
    *,
    serials: bool = False,
    language: Language = ENGLISH,
    before: Before | None = None,
    wish: Wish = "found",
    begin: Callable[[str], None] = lambda stage: None,
    progress: Progress | None = None,
) -> tuple[Page, Mapping[str, str]]:
    """Writes all pages of a run; the records they were made from, and each anchor's file.

    `wish` says which pictures open larger; `begin` and `progress` are as in whole.write.
    """
    begin("showing")
    made = gallery(result, run, wish, progress)
    begin("describing")
    opens = made.opens(result, ways(result.dump, run.path))
    shown = page(result, serials=serials, place=PictureFiles(run).keep, before=before, opens=opens)
    views = in_order(result, shown)
    facets = Facets(result)
    site = _site(result, shown, views, facets)
    places = _places(shown, site)
    env = environment(places, language)
    marks = _marks(shown, views, facets)
    begin("writing")
    sheets = _sheets(shown, site, facets.all, marks)
    for done, sheet in enumerate(sheets, start=1):
        run.write(sheet.file, _rendered(env, sheet, {"page": shown, "site": site, "marks": marks}))
        if progress is not None:
            progress(done, len(sheets))
    for one in picture_views(result, made, views, ways(result.dump, run.path / PAGES)):
        run.write(one.page, env.get_template("pages/view.html").render(page=shown, view=one, up=UP))
    run.write("report.css", style_sheet())
    run.write("report.js", script())
    run.write("frames.js", frames_script(result))
    return shown, places


def _rendered(env: Environment, sheet: SitePage, values: Mapping[str, Any]) -> Iterator[str]:
    """The page in pieces, so that the list of all frames is never in memory whole."""
    pieces = env.get_template(sheet.template).stream(**values, **sheet.values, sheet=sheet)
    pieces.enable_buffering(PIECES)
    return pieces


def in_order(result: Result, shown: Page) -> list[FrameView]:
    """The frames in the table's order; a folder's frames need not lie side by side in it."""
    by_anchor = {frame.anchor: frame for folder in shown.folders for frame in folder.frames}
    return [by_anchor[f"frame-{n}"] for n in range(1, len(result.frames) + 1)]


def _site(result: Result, shown: Page, views: list[FrameView], facets: Facets) -> Site:
    frames, days = result.frames, day_pages(result, views, serials=shown.serials)
    fresh = shown.since.fresh if shown.since is not None else frozenset()
    again = revisits(result, views)
    return Site(
        contents=_contents(days, bool(again)),
        act=causes(shown.groups["act"], frames, views, fresh),
        look=causes(shown.groups["look"], frames, views, fresh),
        **trip_strips(frames, [view.level for view in views]),
        days=days,
        again=again,
        prints=print_pages(shown.desk.items, PRINT),
        ledger=ledger(frames, views, facets),
        use=kit_use(result),
    )


def trip_strips(frames: pd.DataFrame, levels: Sequence[str]) -> dict[str, Any]:
    """The trip in time as the template of the strips wants it: `levels` are the worst of each frame."""
    links = frame_links(frames)
    timed = day_lights(frames, levels, links)
    timeless = int(frames["captured_at"].isna().sum())
    return {
        "strips": strips(timed, {name: link.anchor for name, link in links.items()}),
        "has_sky": bool(frames["sky_ev100"].notna().any()),
        "timeless": plural(
            timeless, "{n} frame without a time is not on it.", "{n} frames without a time are not on it."
        )
        if timeless
        else "",
    }


def _contents(days: Sequence[DayPage], again: bool) -> tuple[tuple[str, str], ...]:
    setups = ((days[0].file, marked("Setups")),) if days else ()
    return (
        (FRONT, marked("The trip")),
        (FINDINGS, marked("Findings")),
        *setups,
        *(((AGAIN, marked("To go back for")),) if again else ()),
        (FRAMES, marked("All frames")),
        (PRINT, marked("Print desk")),
        (KIT, marked("Kit")),
        (METHOD, marked("Method")),
        (PASSED, marked("Passed over")),
    )


def _places(shown: Page, site: Site) -> dict[str, str]:
    """Anchor to the file it lies in."""
    places = dict(FIXED)
    places |= {frame.anchor: day.file for day in site.days for frame in day.frames}
    places |= {row.anchor: FINDINGS for group in _groups(shown) for row in group.rows}
    places |= {item.anchor: part.file for part in site.prints for item in part.items}
    return places | {check.anchor: METHOD for check in shown.checks}


def _marks(shown: Page, views: Iterable[FrameView], facets: Facets) -> dict[str, Marks]:
    """What stands on the row of each finding and of each frame, by its anchor."""
    frames = {view.anchor: facets.of([view.identity], view.level) for view in views}
    return frames | {
        row.anchor: facets.of(row.frames, group.level, group.check)
        for group in _groups(shown)
        for row in group.rows
    }


def _groups(shown: Page) -> list[Any]:
    return [group for groups in shown.groups.values() for group in groups]


def _sheets(shown: Page, site: Site, facets: Sequence[Facet], marks: Mapping[str, Marks]) -> list[SitePage]:
    pairs = [row.evidence.plate for g in _groups(shown) for row in g.rows if row.evidence]
    plates = tuple({plate.id: plate for plate in pairs if plate}.values())
    tab = site.days[0].file if site.days else FRONT
    found = [marks[row.anchor] for group in _groups(shown) for row in group.rows]
    rows = {"facets": within(facets, found)}
    ledgered = {"facets": within(facets, [row.marks for row in site.ledger])}
    sheets = [
        SitePage(FRONT, marked("The trip"), "pages/front.html", FRONT),
        SitePage(FINDINGS, marked("Findings"), "pages/findings.html", FINDINGS, plates=plates, values=rows),
        SitePage(FRAMES, marked("All frames"), "pages/frames.html", FRAMES, values=ledgered),
        SitePage(KIT, marked("Kit"), "pages/kit.html", KIT),
        SitePage(METHOD, marked("Method"), "pages/method.html", METHOD),
        SitePage(PASSED, marked("Passed over"), "pages/passed_over.html", PASSED),
    ]
    if site.again:
        sheets.append(SitePage(AGAIN, marked("To go back for"), "pages/again.html", AGAIN))
    for part, around in _turned(site.prints):
        values = {"part": part, **around}
        sheets.append(SitePage(part.file, part.title, "pages/print.html", PRINT, values=values))
    for day, around in _turned(site.days):
        here = within(facets, [marks[frame.anchor] for frame in day.frames])
        values = {"day": day, **around, "facets": here}
        sheets.append(SitePage(day.file, day.title, "pages/day.html", tab, day.drawings, day.plates, values))
    return sheets


def _turned(pages: Sequence[Any]) -> Iterator[tuple[Any, dict[str, Any]]]:
    """Each page, and the ones before and after it under those names."""
    around = (None, *pages, None)
    for n, page_ in enumerate(pages):
        yield page_, {"before": around[n], "after": around[n + 2]}
