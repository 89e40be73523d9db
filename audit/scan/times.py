"""When a frame was taken: by the camera's clock, with sub-seconds and zone where the camera wrote them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime

from audit.message.text import marked
from audit.scan.tags import Tags, left_out, not_possible

# A camera cannot be older than EXIF, nor ahead of this century: common practice, no source.
EARLIEST_YEAR, LATEST_YEAR = 1990, 2100
WESTERNMOST_MIN, EASTERNMOST_MIN = -12 * 60, 14 * 60
"""Zones in use (IANA time zone database)."""
LEAP_SECOND = 60

_DATE = re.compile(r"(\d{4})[:/.-](\d\d)[:/.-](\d\d)[ T](\d\d):(\d\d):(\d\d)(?:\.(\d+))?$", re.ASCII)
_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)$", re.ASCII)
_BLANK = re.compile(r"[\s:0./-]*$", re.ASCII)


def time_values(tags: Tags) -> dict[str, object]:
    """`captured_at` (local time of the camera's clock) and `utc_offset_min`.

    The time of last change is never taken for a capture time: a developed picture carries a later one.
    """
    for kind, written in (
        ("Original", ""),
        ("Digitized", marked("time of digitising used: no time of capture written")),
    ):
        text = tags.text(f"EXIF DateTime{kind}", f"Image DateTime{kind}")
        if text is None:
            continue
        moment = _moment(text, tags.text(f"EXIF SubSecTime{kind}"), tags)
        if moment is not None:
            if written:
                tags.notes.append(written)
            return {"captured_at": moment, "utc_offset_min": _offset(tags, kind)}
    return {}


def _moment(text: str, sub_second: str | None, tags: Tags) -> datetime | None:
    if _BLANK.match(text):
        tags.notes.append(left_out(marked("time of capture is written as blank or zero")))
        return None
    match = _DATE.match(text)
    moment = _as_written(match.groups()[:6]) if match else None
    if moment is None or match is None or not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        tags.notes.append(not_possible(marked("time of capture"), text[:40]))
        return None
    digits = match.group(7) or sub_second or ""
    return moment.replace(
        microsecond=int(digits[:6].ljust(6, "0")) if digits.isascii() and digits.isdigit() else 0
    )


def _as_written(words: Iterable[str]) -> datetime | None:
    """A leap second is the one before it, which most clocks show twice: no day is another for it."""
    year, month, day, hour, minute, second = map(int, words)
    try:
        return datetime(year, month, day, hour, minute, 59 if second == LEAP_SECOND else second)
    except ValueError:
        return None


def _offset(tags: Tags, kind: str) -> int | None:
    text = tags.text(f"EXIF OffsetTime{kind}")
    if text is None or not text.strip(" :"):
        return None
    match = _OFFSET.match("+00:00" if text == "Z" else text)
    minutes = int(f"{match[1]}{int(match[2]) * 60 + int(match[3])}") if match else 0
    if match is None or not WESTERNMOST_MIN <= minutes <= EASTERNMOST_MIN or int(match[3]) > 59:
        tags.notes.append(not_possible(marked("offset from UTC"), text[:20]))
        return None
    return minutes
