"""A season: every question answered once, as plain records; sentences are made of them last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audit.message.shown import shown_name
from audit.season.book import open_book
from audit.season.cut import Pair, pairs
from audit.season.drift import Drift, drifts
from audit.season.find import Problem
from audit.season.lost import Lost, lost
from audit.season.worn import FilterUse, RigUse, filters_used, focals_used

if TYPE_CHECKING:
    from audit.season.book import Book

RECORD_VERSION = 1


@dataclass(frozen=True)
class Season:
    """The answers, and what they rest on.

    `undeclared` frames have no declaration that says what was on. `kits` archives have a kit that can be
    read. `versions` and `missing` as a `Book` has them. `first`, `last`: days, "" where no frame has a time.
    """

    archives: int
    frames: int
    repeats: int
    undeclared: int
    kits: int
    first: str
    last: str
    versions: Mapping[int, int]
    missing: Mapping[str, int]
    problems: tuple[Problem, ...]
    filters: tuple[FilterUse, ...]
    pairs: tuple[Pair, ...]
    drifts: tuple[Drift, ...]
    rigs: tuple[RigUse, ...]
    lost: tuple[Lost, ...]


def season(folders: Iterable[Path], *, threads: int | None = None) -> Season:
    """Everything about the archives below the folders. Raises AuditError where there is none to read."""
    return answered(open_book(folders, threads=threads))


_WHOLE = """
SELECT count_if(declaration NOT IN ('worn', 'bare') OR declaration IS NULL),
    strftime(min(captured_at), '%Y-%m-%d'), strftime(max(captured_at), '%Y-%m-%d'),
    (SELECT count_if(has_kit) FROM archives)
FROM frames"""


def answered(book: Book) -> Season:
    """The answers from an open book."""
    database = book.database
    [(undeclared, first, last, kits)] = database.execute(_WHOLE).fetchall()
    return Season(
        archives=len(book.archives),
        frames=book.frames,
        repeats=book.repeats,
        undeclared=undeclared,
        kits=kits,
        first=first or "",
        last=last or "",
        versions=book.versions,
        missing=book.missing,
        problems=book.problems,
        filters=filters_used(database),
        pairs=pairs(database),
        drifts=drifts(database),
        rigs=focals_used(database),
        lost=lost(database),
    )


def record(found: Season, *, named: bool) -> dict[str, Any]:
    """The season as plain data; only with `named` the archives that have a problem by their paths."""
    plain = asdict(found)
    plain["problems"] = [
        {"archive": shown_name(str(one.path)) if named else None, "why": one.why, "skipped": one.skipped}
        for one in found.problems
    ]
    plain["versions"] = {str(version): count for version, count in found.versions.items()}
    return {"season_version": RECORD_VERSION, **plain}
