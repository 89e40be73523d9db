"""Counts that add up: every file in one place, every frame under one declaration."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from audit.finding import LEVELS, Finding
from audit.message.text import marked, plural, say
from audit.report.words import text, texts
from audit.result import Result

DECLARED = {
    "worn": marked("frames with a rig declared"),
    "bare": marked("frames declared bare"),
    "no-neutral": marked("frames declared without a neutral"),
    "unknown": marked("frames declared unknown"),
    "undeclared": marked("frames undeclared"),
}


@dataclass(frozen=True)
class SumLine:
    """One line of a sum as it is shown."""

    words: str
    count: int


@dataclass(frozen=True)
class FileCounts:
    """Files seen and where each went; `by_reason` holds (reason, count), most first."""

    seen: int
    in_frames: int
    passed_over: int
    by_reason: tuple[tuple[str, int], ...]

    @property
    def missing(self) -> int:
        """Files that are in neither place: 0 unless this program has a fault."""
        return self.seen - self.in_frames - self.passed_over


def file_counts(result: Result) -> FileCounts:
    """Where the files of the dump went."""
    reasons = Counter(text(reason) or marked("no reason given") for reason in result.passed_over["reason"])
    return FileCounts(
        seen=int(result.files_seen),
        in_frames=sum(len(texts(files)) for files in result.frames["files"]),
        passed_over=len(result.passed_over),
        by_reason=tuple(sorted(reasons.items(), key=lambda item: (-item[1], item[0]))),
    )


def declared_counts(frames: pd.DataFrame) -> list[tuple[str, int]]:
    """(declaration, frames) for each of the five; null counts as undeclared, so all frames are in it."""
    counts = Counter(text(value) or "undeclared" for value in frames["declaration"])
    others = sorted(set(counts) - set(DECLARED))
    return [(name, counts[name]) for name in (*DECLARED, *others)]


def file_lines(files: FileCounts, frames: int) -> tuple[SumLine, ...]:
    """Where every file went, as the lines of a sum."""
    lines = [SumLine(plural(frames, "files in {n} frame", "files in {n} frames"), files.in_frames)]
    lines += [
        SumLine(say("passed over: {reason}", reason=reason), count) for reason, count in files.by_reason
    ]
    if files.missing:
        words = marked("in neither place: a fault of this program, please report it")
        lines.append(SumLine(words, files.missing))
    return tuple(lines)


def declared_lines(frames: pd.DataFrame) -> tuple[SumLine, ...]:
    """What was declared for each frame, as the lines of a sum."""
    counts = declared_counts(frames)
    # Few say it, so nobody reads a line of it where none did.
    return tuple(SumLine(DECLARED[name], count) for name, count in counts if count or name != "no-neutral")


def level_counts(findings: Iterable[Finding]) -> list[tuple[str, int]]:
    """(level, findings) for act, look and note."""
    counts = Counter(finding.level for finding in findings)
    return [(level, counts[level]) for level in LEVELS]
