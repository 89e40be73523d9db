"""The page of a shelf, as one run in a folder of reports; each trip has its own report below."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from audit import __version__
from audit.disk.runs import PlacedRun
from audit.message.json_text import json_text
from audit.message.text import day, plural, say
from audit.report.language import ENGLISH, Language
from audit.report.one_page import write_one_page
from audit.report.pictures import FOLDER as PICTURES
from audit.report.templating import environment
from audit.scale.audits import Audited, Audits, record

DATA, TRIP_PAGE = "shelf.json", "index.html"
SHOWN = 4
"""Pictures of a trip on the page, spread evenly over those in its report."""
_THUMBNAIL = re.compile(r"p(\d+)\.jpg")


@dataclass(frozen=True)
class Row:
    """A trip as the page shows it; `address` is that of its report, "" where there is none."""

    trip: Audited
    address: str
    pictures: tuple[str, ...]
    when: str


def write_page(found: Audits, out: Path, language: Language = ENGLISH) -> PlacedRun:
    """Writes the page and shelf.json into the folder of reports `out`; whole, or not at all."""
    data = DATA, data_text(found)
    return write_one_page(out, page_text(found, out, language), data, "shelf/door.html", language)


def page_text(found: Audits, out: Path, language: Language = ENGLISH) -> str:
    """The page alone; what could not be audited comes first, then the trips by their first pictures."""
    rows = sorted((_row(one, out) for one in found.trips), key=_rank)
    values = {"shelf": found, "rows": rows, "summary": summary(found), "version": __version__}
    return environment(language=language).get_template("shelf/shelf.html").render(**values)


def data_text(found: Audits) -> str:
    """shelf.json, and what --json prints."""
    return json_text(record(found))


def summary(found: Audits) -> tuple[str, ...]:
    """What there is, and what to do, one sentence each."""
    folders = sum(len(one.folders) for one in found.trips)
    frames = sum(int(one.counts["frames"]) for one in found.trips if one.counts)
    acting = sum(bool(one.number("act")) for one in found.trips)
    unread = sum(not one.run for one in found.trips)
    lines = [
        plural(len(found.trips), "{n} trip.", "{n} trips."),
        plural(folders, "{n} folder of the shelf.", "{n} folders of the shelf."),
        plural(frames, "{n} frame.", "{n} frames."),
        plural(acting, "{n} trip with something to act on.", "{n} trips with something to act on."),
    ]
    if unread:
        lines.append(plural(unread, "{n} trip could not be audited.", "{n} trips could not be audited."))
    return tuple(lines)


def _rank(row: Row) -> tuple[bool, str, str]:
    begins = row.trip.begins
    return bool(row.address), begins.isoformat() if begins else "~", row.trip.name


def _row(one: Audited, out: Path) -> Row:
    """`out` is the folder that the page's run will lie in."""
    if not one.run:
        return Row(one, "", (), _when(one))
    way = f"../{quote(one.run)}"
    pictures = tuple(f"{way}/{PICTURES}/{name}" for name in _spread(out / one.run / PICTURES))
    return Row(one, f"{way}/{TRIP_PAGE}", pictures, _when(one))


def _spread(folder: Path) -> list[str]:
    """Names of a few thumbnails, from the first to the last."""
    numbers = sorted(int(m[1]) for path in folder.glob("p*.jpg") if (m := _THUMBNAIL.fullmatch(path.name)))
    if len(numbers) > SHOWN:
        numbers = [numbers[place * (len(numbers) - 1) // (SHOWN - 1)] for place in range(SHOWN)]
    return [f"p{number}.jpg" for number in numbers]


def _when(one: Audited) -> str:
    if one.begins is None or one.ends is None:
        return ""
    first, last = day(one.begins.date()), day(one.ends.date())
    return first if first == last else say("{first} to {last}", first=first, last=last)
