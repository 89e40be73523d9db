"""Findings held against the truth of a simulated trip."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Score:
    """Planted mistakes found, and what was reported without reason, in words."""

    planted: int
    found: int
    missed: tuple[str, ...]
    innocent: int
    false: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data, for JSON."""
        return asdict(self)

    def words(self) -> str:
        """A line, and one more for each miss."""
        lines = [
            f"planted mistakes found: {self.found} of {self.planted}; "
            f"false: {len(self.false)} of {self.innocent} innocent look-alikes and all other frames"
        ]
        return "\n".join(
            [*lines, *(f"missed: {m}" for m in self.missed), *(f"false: {f}" for f in self.false)]
        )


def score(truth: Mapping[str, Any], findings: Iterable[tuple[str, str, Sequence[str]]]) -> Score:
    """Scores findings (check, level, frames) against a truth table.

    A planted mistake is found when its check reports every one of its frames at its level. False is a
    frame reported at the levels act or look without being planted for that check, or an innocent one
    reported at any level.
    """
    reported: dict[tuple[str, str], set[str]] = defaultdict(set)
    for check, level, frames in findings:
        reported[check, level] |= set(frames)
    planted, innocent = truth["planted"], truth["innocent"]
    missed = [
        f"{p['check']}: {p['what']} ({', '.join(sorted(left))})"
        for p in planted
        if (left := set(p["frames"]) - reported[p["check"], p["level"]])
    ]
    meant: dict[str, set[str]] = defaultdict(set)
    for p in planted:
        meant[p["check"]] |= set(p["frames"])
    spared: dict[str, set[str]] = defaultdict(set)
    for i in innocent:
        spared[i["check"]] |= set(i["frames"])
    false: list[str] = []
    for (check, level), seen in sorted(reported.items()):
        wrong = seen - meant[check] if level in ("act", "look") else seen & spared[check]
        false.extend(f"{check} ({level}): {frame}" for frame in sorted(wrong))
    return Score(len(planted), len(planted) - len(missed), tuple(missed), len(innocent), tuple(false))
