"""What changed since the run before in the same folder of reports: by check and frame, never by words."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from audit.disk.regular import open_regular
from audit.disk.runs import runs
from audit.message.text import joined, marked, plural, say
from audit.result import Result

LARGEST_BYTES = 200_000_000
TOLD = ("act", "look")
MOST_MENDED = 8
"""More are a count."""

Pair = tuple[str, str]
"""A check and a frame; a finding without frames has an empty one."""


@dataclass(frozen=True)
class Before:
    """What the run before found to act on and to look at: (check, its pairs) of each finding."""

    run: str
    title: str
    found: tuple[tuple[str, frozenset[Pair]], ...]


@dataclass(frozen=True)
class Since:
    """How the findings differ from those of the run before; `fresh` are pairs it did not have."""

    words: tuple[str, ...]
    fresh: frozenset[Pair]


def read_before(out: Path) -> Before | None:
    """The newest run of a folder of reports; None where there is none that can be read."""
    try:
        *_, run = (None, *runs(out))
        if run is None:
            return None
        with open_regular(run / "findings.json") as file:
            said = json.loads(file.read(LARGEST_BYTES))
        found = tuple(
            (str(one["check"]), _pairs(str(one["check"]), one["frames"]))
            for one in said["findings"]
            if one["level"] in TOLD
        )
        return Before(run.name, str(said["title"]), found)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def since(before: Before | None, result: Result, title: str) -> Since | None:
    """What is new, mended and still there; None without a run before, or where that was of another trip."""
    if before is None or before.title != title:
        return None
    now = [(f.check, _pairs(f.check, f.frames)) for f in result.findings if f.level in TOLD]
    had = frozenset(pair for _, pairs in before.found for pair in pairs)
    have = frozenset(pair for _, pairs in now for pair in pairs)
    new = sum(not pairs & had for _, pairs in now)
    mended = [(check, pairs) for check, pairs in before.found if not pairs & have]
    if not before.found and not now:
        return None
    return Since(tuple(_words(before.run, new, mended, len(now) - new, result)), have - had)


def _words(
    run: str, new: int, mended: list[tuple[str, frozenset[Pair]]], still: int, result: Result
) -> Iterable[str]:
    words = marked("Since {run_name}: {new}, {mended}, {still}.")
    if not new and not still:
        words = marked("Since {run_name}: all is mended ({mended}).")
    yield say(
        words,
        run_name=run,
        new=plural(new, "{n} new", "{n} new"),
        mended=plural(len(mended), "{n} mended", "{n} mended"),
        still=plural(still, "{n} still there", "{n} still there"),
    )
    titles = {run.info.id: run.info.title for run in result.checks}
    shown = [_mended(titles.get(check, check), pairs) for check, pairs in mended[:MOST_MENDED]]
    if shown:
        yield say("Mended: {what}.", what=joined(shown, "; "))


def _mended(title: str, pairs: frozenset[Pair]) -> str:
    names = sorted(name.rsplit("/", 1)[-1] for _, name in pairs if name)
    if not names:
        return title
    if len(names) == 1:
        return say("{title} ({frame})", title=title, frame=names[0])
    return say(
        "{title} ({first_frame} and {count} more)", title=title, first_frame=names[0], count=len(names) - 1
    )


def _pairs(check: str, frames: Any) -> frozenset[Pair]:
    return frozenset((check, str(name)) for name in frames) or frozenset({(check, "")})
