"""What a kit still lacks for corners and filters: to fill in, no mistake."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.kit.kit import Kit

MOST_NAMED = 6
WHERE_THREAD = "on the front rim of the lens, after the sign ø"
TABLES = {
    "ring": "the ring between lens and holder: a [[ring]] table",
    "holder": "the filter holder: a [[holder]] table",
    "filter": "the filters: a [[filter]] table each",
}


def blanks(kit: Kit) -> Iterator[str]:
    """One line each for the terminal, nothing where the kit can say of every frame what was before the lens.

    A holder that is pushed over the lens needs neither thread nor ring.
    """
    pushed = any(holder.push_on_mm is not None for holder in kit.holders)
    bare = [lens.id for lens in kit.lenses if lens.thread_mm is None]
    if bare and not pushed:
        yield f"thread_mm of lens {_some(bare)} ({WHERE_THREAD})"
    missing = {"ring": not (kit.rings or pushed), "holder": not kit.holders, "filter": not kit.filters}
    yield from (words for table, words in TABLES.items() if missing[table])


def _some(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    told = [f'"{name}"' for name in names[:MOST_NAMED]]
    return ", ".join(told) + f" and {more} more" * (more > 0)
