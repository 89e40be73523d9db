"""Findings grouped by check and cause, with links to their frames and back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from audit.finding import LEVELS, CheckRun, Finding
from audit.report.links import SHOWN_LINKS, Link
from audit.report.view_evidence import EvidenceView

FindPair = Callable[[str, tuple[str, ...]], EvidenceView | None]
"""From a check and its frames to the pair that bears on it."""


@dataclass(frozen=True)
class FindingRow:
    """Findings that share cause and words, with all their frames.

    `sure` and `advice` are "" where the whole group shares them.
    """

    anchor: str
    cause: str
    seen: str
    expected: str
    by: str
    sure: str
    advice: str
    frames: tuple[str, ...]
    links: tuple[Link, ...]
    more: tuple[Link, ...]
    evidence: EvidenceView | None


@dataclass(frozen=True)
class Group:
    """What one check found at one level; `sure` and `advice` are set where all its rows share them."""

    level: str
    check: str
    title: str
    check_anchor: str
    frames: tuple[str, ...]
    sure: str
    advice: str
    rows: tuple[FindingRow, ...]

    @property
    def columns(self) -> int:
        """Columns of its table: seen, expected and frames are in each."""
        return 3 + self.has_causes + self.has_amounts + (not self.sure)

    @property
    def has_causes(self) -> bool:
        """Whether any row names a cause of its own."""
        return any(row.cause for row in self.rows)

    @property
    def has_amounts(self) -> bool:
        """Whether any row says by how much."""
        return any(row.by for row in self.rows)


def grouped(
    findings: Iterable[Finding],
    checks: Iterable[CheckRun],
    links: Mapping[str, Link],
    pair: FindPair = lambda check, frames: None,
) -> dict[str, list[Group]]:
    """Groups by level, the one with most frames first; `links` leads from a frame's name to its place."""
    by_check: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        by_check.setdefault((finding.level, finding.check), []).append(finding)
    titles = {run.info.id: run.info.title for run in checks}
    levels: dict[str, list[Group]] = {level: [] for level in LEVELS}
    order = sorted(by_check.items(), key=lambda item: (LEVELS.index(item[0][0]), -len(_frames(item[1]))))
    for (level, check), members in order:
        levels[level].append(
            Group(
                level=level,
                check=check,
                title=titles.get(check, check),
                check_anchor=f"check-{check}" if check in titles else "",
                frames=_frames(members),
                sure=_shared(f.sure for f in members),
                advice=_shared(f.advice for f in members),
                rows=_rows(members, links, f"{level}-{check}", pair),
            )
        )
    return levels


def back_links(groups: Mapping[str, list[Group]]) -> dict[str, list[Link]]:
    """Frame name to the rows that speak of it, worst first."""
    back: dict[str, list[Link]] = {}
    for group in (g for level in LEVELS for g in groups[level]):
        for row in group.rows:
            for frame in row.frames:
                back.setdefault(frame, []).append(Link(row.anchor, group.title, group.level))
    return back


def _rows(
    members: list[Finding], links: Mapping[str, Link], anchor: str, pair: FindPair
) -> tuple[FindingRow, ...]:
    """Rows with most frames first."""
    alike: dict[tuple[str, ...], list[Finding]] = {}
    for f in members:
        alike.setdefault((f.cause, f.seen, f.expected, f.by, f.sure, f.advice), []).append(f)
    one_sure, one_advice = _shared(f.sure for f in members), _shared(f.advice for f in members)
    rows = []
    order = sorted(alike.items(), key=lambda item: -len(_frames(item[1])))
    for n, ((cause, seen, expected, by, sure, advice), same) in enumerate(order, start=1):
        names = _frames(same)
        to = tuple(links.get(name, Link("", name)) for name in names)
        rows.append(
            FindingRow(
                anchor=f"{anchor}-{n}",
                cause=cause,
                seen=seen,
                expected=expected,
                by=by,
                sure="" if one_sure else sure,
                advice="" if one_advice else advice,
                frames=names,
                links=to[:SHOWN_LINKS],
                more=to[SHOWN_LINKS:],
                evidence=pair(members[0].check, names),
            )
        )
    return tuple(rows)


def _frames(findings: list[Finding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for finding in findings for name in finding.frames))


def _shared(words: Iterable[str]) -> str:
    distinct = set(words)
    return distinct.pop() if len(distinct) == 1 else ""
