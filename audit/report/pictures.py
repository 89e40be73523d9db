"""The pictures that open from a run's pages: larger views and cuts at full size, as files beside them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from audit.disk.building import Building
from audit.message.text import say
from audit.pictures.kept import Views
from audit.pictures.originals import Seen
from audit.pictures.upright import Encoded
from audit.report.original_links import Ways
from audit.report.picture_plan import NOTHING, Plan, Wish, plan
from audit.report.thumbnails import Opens
from audit.report.words import text, texts
from audit.result import Result

FOLDER, PAGES = "pictures", "views"
MOST_FOUND_BYTES = 40_000_000
"""Of all larger views and cuts of a run, unless all are asked for. One view is upright.MOST_LARGER_BYTES."""
MEGA = 1_000_000

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Cut:
    """A picture written beside the pages: its address from the run's folder, and its size."""

    uri: str
    width_px: int
    height_px: int


@dataclass(frozen=True)
class Shot:
    """What was written of one frame; the words are those of pictures.originals.Seen."""

    page: str
    larger: Cut
    corners: tuple[Cut, ...]
    middle: Cut | None
    seen: Seen


@dataclass(frozen=True)
class Gallery:
    """By place in the table what was written, and why it was not where it was to be."""

    plan: Plan
    shots: Mapping[int, Shot]
    whys: Mapping[int, str]

    def beside(self, place: int) -> tuple[int, ...]:
        """The frames whose middles were cut to stand in a row with a frame's, its own among them."""
        row = self.plan.beside.get(place, ()) if place in self.shots else ()
        return tuple(n for n in row if n in self.shots and self.shots[n].middle is not None)

    def opens(self, result: Result, ways: Ways) -> dict[str, Opens]:
        """By frame what its thumbnail leads to."""
        found: dict[str, Opens] = {}
        for n, row in enumerate(result.rows):
            shot, files = self.shots.get(n), texts(row["files"])
            found.setdefault(
                text(row["frame"]),
                Opens(
                    view=shot.page if shot else "",
                    corners=shot is not None and n in self.plan.corners,
                    beside=len(self.beside(n)) > 1,
                    file=ways.to(files[0]) if files else "",
                    why=self.whys.get(n, ""),
                ),
            )
        return found


EMPTY = Gallery(NOTHING, {}, {})


def gallery(result: Result, run: Building, wish: Wish, progress: Progress | None = None) -> Gallery:
    """Reads the pictures that a report shows larger, and writes them. `progress` gets (done, in all)."""
    if result.dump is None:
        return EMPTY
    wanted = plan(result.rows, result.findings, wish)
    shots: dict[int, Shot] = {}
    whys: dict[int, str] = {}
    weight, views = 0, Views(result.dump, result.cache)
    asked = ((result.rows[n], n in wanted.full) for n in wanted.larger)
    for done, (n, found) in enumerate(zip(wanted.larger, views.each(asked), strict=True), start=1):
        if found.larger is None:
            whys[n] = found.why
        else:
            shots[n], bytes_ = _written(found, found.larger, run, n + 1)
            weight += bytes_
        if progress is not None:
            progress(done, len(wanted.larger))
        if wish == "found" and weight >= MOST_FOUND_BYTES:
            most = MOST_FOUND_BYTES // MEGA
            limit = say("left out: the pictures of a report have {limit} MB at most", limit=most)
            whys |= dict.fromkeys(wanted.larger[done:], limit)
            break
    views.close()
    return Gallery(wanted, shots, whys)


def _written(found: Seen, larger: Encoded, run: Building, number: int) -> tuple[Shot, int]:
    """The files of one frame, and how many bytes they have."""
    weight = 0

    def put(name: str, one: Encoded) -> Cut:
        nonlocal weight
        weight += len(one.jpeg)
        uri = f"{FOLDER}/{name}.jpg"
        run.write(uri, one.jpeg)
        return Cut(uri, one.width_px, one.height_px)

    corners = [put(f"c{number}-{at}", one) for at, one in enumerate(found.corners, start=1)]
    middle = put(f"m{number}", found.middle) if found.middle is not None else None
    shot = Shot(f"{PAGES}/{number}.html", put(f"v{number}", larger), tuple(corners), middle, found)
    return shot, weight
