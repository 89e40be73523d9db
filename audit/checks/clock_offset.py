"""Two bodies carried on one trip must agree on the time, or their frames are sorted and joined wrongly.

The usual cause is a time zone or summer time that was set on one body only. A clock that is off without a
written offset from UTC cannot be told from the files: photograph one clock with both bodies.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import body_words, names
from audit.model.finding import Finding

ID = "clock-offset"
TITLE = "Two bodies disagree on the time"
THRESHOLD = (
    "offsets from UTC, as written on one day in one folder, that differ by 15 minutes or more from those of "
    "the body with most frames there, beyond what the kit declares (clock_ahead_s)"
)
SOURCE = "OffsetTimeOriginal: Exif 2.31 (CIPA DC-008)"
ADVICE = (
    "Photograph one clock with both bodies, and write the difference into kit.toml: clock_ahead_s of the "
    "body that is wrong."
)
NEEDS = ("captured_at", "body", "folder", "utc_offset_min", "clock_ahead_s")
APART_MIN = 15


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    timed = frames.dropna(subset=["captured_at", "body", "utc_offset_min"])
    ahead_min = timed["clock_ahead_s"].fillna(0.0) / 60
    timed = timed.assign(
        day=(timed["captured_at"] - pd.to_timedelta(ahead_min, unit="min")).dt.normalize(),
        zone_min=timed["utc_offset_min"].astype(float) - ahead_min,
    )
    for (folder, day), part in timed.groupby(["folder", "day"], sort=True):
        count = part["body"].value_counts()
        main = min(count.index, key=lambda body: (-count[body], body))
        usual = part[part["body"] == main]
        for body, run in part[part["body"] != main].groupby("body", sort=True):
            apart_min = float(run["zone_min"].median() - usual["zone_min"].median())
            if abs(apart_min) >= APART_MIN:
                yield Finding(
                    ID,
                    "look",
                    names(run),
                    seen=f"{body_words(body)} writes UTC{_zone(run)}, {body_words(main)} UTC{_zone(usual)}",
                    expected="one time zone on one day",
                    sure="as written in EXIF",
                    advice=ADVICE,
                    by=f"{abs(apart_min) / 60:.1f} h",
                    cause=f"{body_words(main)} and {body_words(body)}, folder {folder}, {day:%Y-%m-%d}",
                )


def _zone(part: pd.DataFrame) -> str:
    minutes = int(part["utc_offset_min"].median())
    return f"{'+' if minutes >= 0 else '-'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
