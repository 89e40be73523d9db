"""Two bodies carried on one trip must agree on the time, or their frames are sorted and joined wrongly.

The usual cause is a time zone or summer time that was set on one body only. A clock that is off without a
written offset from UTC cannot be told from the files: photograph one clock with both bodies.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from audit.checks._words import body_words, days, names
from audit.exposure.clocks import apart
from audit.finding import Finding
from audit.message.text import marked, say

ID = "clock-offset"
TITLE = "Two bodies disagree on the time"
THRESHOLD = (
    "offsets from UTC, as written on one day, that differ by 15 minutes or more from that of the nearest "
    "frame in time of the body with most frames on that day, by clocks set right (clock_ahead_s)"
)
SOURCE = "OffsetTimeOriginal: Exif 2.31 (CIPA DC-008)"
ADVICE = (
    "Photograph one clock with both bodies, and write the difference into kit.toml: clock_ahead_s of the "
    "body that is wrong."
)
NEEDS = ("captured_at", "body", "utc_offset_min", "clock_ahead_s")
MAY_LACK = ("clock_ahead_s",)
APART_MIN = 15


def find(frames: pd.DataFrame) -> Iterator[Finding]:
    timed = frames[["frame", *NEEDS]].dropna(subset=["captured_at", "body", "utc_offset_min"])
    offset_min = timed["utc_offset_min"].astype(float)
    timed = timed.assign(
        utc=timed["captured_at"] - pd.to_timedelta(offset_min, unit="min"),
        day=timed["captured_at"].dt.normalize(),
        offset_min=offset_min,
    ).sort_values(["utc", "frame"])
    differ = timed.groupby("day")["offset_min"].transform("nunique") > 1
    pairs = [_beside_main(part) for _, part in timed[differ].groupby("day", sort=True)]
    pairs = [part for part in pairs if len(part)]
    if not pairs:
        return
    contradicted = {
        (told.main, told.body)
        for told in apart(frames)
        if told.sure and told.zone_s is not None and abs(told.ahead_s - told.zone_s) > told.err_s
    }
    keys = ["main", "body", "offset_min", "main_offset_min"]
    for (main, body, *_), run in pd.concat(pairs).groupby(keys, sort=True):
        mine, others, hours = body_words(body), body_words(main), abs(run["apart_min"].iloc[0]) / 60
        yield Finding(
            ID,
            "look",
            names(run),
            seen=say(
                "{body} writes UTC{offset}, {other_body} UTC{other_offset}",
                body=mine,
                offset=_zone(run["offset_min"].iloc[0]),
                other_body=others,
                other_offset=_zone(run["main_offset_min"].iloc[0]),
            ),
            expected=marked("one time zone on one day"),
            sure=marked("as written in EXIF"),
            advice=_advice(timed, run, contradicted),
            by=say("{hours:.1f} h", hours=hours),
            cause=say("{body} and {other_body}, {days}", body=others, other_body=mine, days=days(run["day"])),
        )


def _advice(timed: pd.DataFrame, run: pd.DataFrame, contradicted: set[tuple[str, str]]) -> str:
    """The line for the kit, where all frames of the body have the other zone and the scenes do not object."""
    main, body = run["main"].iloc[0], run["body"].iloc[0]
    whole = set(timed.loc[timed["body"] == body, "frame"]) == set(run["frame"])
    if not whole or (main, body) in contradicted:
        return ADVICE
    known = timed.loc[timed["body"] == body, "clock_ahead_s"].fillna(0.0).iloc[0]
    return say(
        "If the zone of {other_body} is right, write clock_ahead_s = {seconds_written} below [[body]] "
        'name = "{name}" in the kit; else photograph one clock with both bodies.',
        other_body=body_words(main),
        seconds_written=str(round(known + 60 * run["apart_min"].iloc[0])),
        name=body,
    )


def _beside_main(day: pd.DataFrame) -> pd.DataFrame:
    """Frames of one day whose zone is not that of the main body's nearest frame, with its label and zone.

    The nearest, because a zone may change on the way: then it changes for both bodies.
    """
    count = day["body"].value_counts()
    main = min(count.index, key=lambda body: (-count[body], body))
    usual = day.loc[day["body"] == main, ["utc", "offset_min"]].add_prefix("main_")
    beside = pd.merge_asof(
        day[day["body"] != main], usual, left_on="utc", right_on="main_utc", direction="nearest"
    )
    apart = beside.assign(main=main, apart_min=beside["offset_min"] - beside["main_offset_min"])
    return apart[apart["apart_min"].abs() >= APART_MIN]


def _zone(offset_min: float) -> str:
    minutes = int(offset_min)
    return f"{'+' if minutes >= 0 else '-'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
