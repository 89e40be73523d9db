"""Two bodies carried on one trip must agree on the time, or their frames are sorted and joined wrongly.

The usual cause is a time zone or summer time that was set on one body only.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import pandas as pd

from audit.checks._words import names
from audit.model.finding import Finding

ID = "clock-offset"
TITLE = "Two bodies disagree on the time"
THRESHOLD = (
    "bodies with frames in one folder whose offsets from UTC, as written, differ on the same day; or whose "
    "times in that folder never come within 12 hours of each other"
)
SOURCE = "OffsetTimeOriginal: Exif 2.31 (CIPA DC-008); the rest common practice, no source"
ADVICE = (
    "Photograph one clock with both bodies, and write the difference into kit.toml: clock_ahead_s of the "
    "body that is wrong."
)
NEEDS = ("captured_at", "body", "folder", "utc_offset_min")
APART = pd.Timedelta(hours=12)


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    timed = frames.dropna(subset=["captured_at", "body"])
    ahead_s = timed["clock_ahead_s"].fillna(0.0)
    timed = timed.assign(true=timed["captured_at"] - pd.to_timedelta(ahead_s, unit="s"), ahead_s=ahead_s)
    for folder, part in timed.groupby("folder", sort=True):
        by_body = {str(body): run for body, run in part.groupby("body", sort=True)}
        for (a, first), (b, second) in combinations(by_body.items(), 2):
            yield from _zones(str(folder), a, first, b, second)
            yield from _apart(str(folder), a, first, b, second)


def _zones(folder: str, a: str, first: pd.DataFrame, b: str, second: pd.DataFrame) -> Iterator[Finding]:
    day_a, day_b = first["true"].dt.normalize(), second["true"].dt.normalize()
    left = first[day_a.isin(day_b)].dropna(subset="utc_offset_min")
    right = second[day_b.isin(day_a)].dropna(subset="utc_offset_min")
    if left.empty or right.empty:
        return
    zone_min = float(right["utc_offset_min"].median() - left["utc_offset_min"].median())
    known_min = float(right["ahead_s"].median() - left["ahead_s"].median()) / 60
    if abs(zone_min - known_min) >= 15:
        yield Finding(
            ID,
            "look",
            names(right),
            seen=f"body {b} writes UTC{_zone(right)}, body {a} UTC{_zone(left)}",
            expected="one time zone on one day",
            sure="as written in EXIF",
            advice=ADVICE,
            by=f"{abs(zone_min - known_min) / 60:.1f} h",
            cause=f"bodies {a} and {b}, folder {folder}",
        )


def _apart(folder: str, a: str, first: pd.DataFrame, b: str, second: pd.DataFrame) -> Iterator[Finding]:
    gap = max(second["true"].min() - first["true"].max(), first["true"].min() - second["true"].max())
    if gap > APART:
        yield Finding(
            ID,
            "look",
            names(second),
            seen=f"body {b} {_days(second)}, body {a} {_days(first)}",
            expected=f"both bodies at one time in folder {folder}",
            sure="as written in EXIF",
            advice=ADVICE,
            by=f"{gap.total_seconds() / 3600:.0f} h",
            cause=f"bodies {a} and {b}, folder {folder}",
        )


def _days(part: pd.DataFrame) -> str:
    return f"{part['true'].min():%Y-%m-%d %H:%M} to {part['true'].max():%Y-%m-%d %H:%M}"


def _zone(part: pd.DataFrame) -> str:
    minutes = int(part["utc_offset_min"].median())
    return f"{'+' if minutes >= 0 else '-'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
