"""Counts that add up: every file in one place, every frame under one declaration."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from audit.model.finding import LEVELS, Finding
from audit.model.result import Result
from audit.report.words import text, texts

DECLARATIONS = ("worn", "bare", "unknown", "undeclared")


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
    reasons = Counter(text(reason) or "no reason given" for reason in result.passed_over["reason"])
    return FileCounts(
        seen=int(result.files_seen),
        in_frames=sum(len(texts(files)) for files in result.frames["files"]),
        passed_over=len(result.passed_over),
        by_reason=tuple(sorted(reasons.items(), key=lambda item: (-item[1], item[0]))),
    )


def declared_counts(frames: pd.DataFrame) -> list[tuple[str, int]]:
    """(declaration, frames) for each of the four; null counts as undeclared, so all frames are in it."""
    counts = Counter(text(value) or "undeclared" for value in frames["declaration"])
    others = sorted(set(counts) - set(DECLARATIONS))
    return [(name, counts[name]) for name in (*DECLARATIONS, *others)]


def level_counts(findings: Iterable[Finding]) -> list[tuple[str, int]]:
    """(level, findings) for act, look and note."""
    counts = Counter(finding.level for finding in findings)
    return [(level, counts[level]) for level in LEVELS]
