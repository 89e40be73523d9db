"""The print desk as pages: which prints stand on which, so that each opens at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audit.message.text import marked, say
from audit.report.view_print import PrintItem

PRINTS_A_PAGE = 60
"""A print with its sizes takes 3 to 6 kB, so a page stays far below a megabyte."""


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
