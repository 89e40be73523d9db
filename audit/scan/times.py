"""When a frame was taken: by the camera's clock, with sub-seconds and zone where the camera wrote them."""

from __future__ import annotations

import re
from datetime import datetime

from audit.message.text import marked
from audit.scan.tags import Tags, left_out, not_possible

# A camera cannot be older than EXIF, nor ahead of this century: common practice, no source.
EARLIEST_YEAR, LATEST_YEAR = 1990, 2100
OFFSET_LIMIT_MIN = 14 * 60  # the easternmost zone in use

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
    try:
        moment = datetime(*(int(part) for part in match.groups()[:6])) if match else None  # type: ignore[arg-type]
    except ValueError:
        moment = None
    if moment is None or match is None or not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        tags.notes.append(not_possible(marked("time of capture"), text[:40]))
        return None
    digits = match.group(7) or sub_second or ""
    return moment.replace(
        microsecond=int(digits[:6].ljust(6, "0")) if digits.isascii() and digits.isdigit() else 0
    )


def _offset(tags: Tags, kind: str) -> int | None:
    text = tags.text(f"EXIF OffsetTime{kind}")
    if text is None or not text.strip(" :"):
        return None
    match = _OFFSET.match("+00:00" if text == "Z" else text)
    minutes = int(match.group(2)) * 60 + int(match.group(3)) if match else OFFSET_LIMIT_MIN + 1
    if match is None or minutes > OFFSET_LIMIT_MIN or int(match.group(3)) > 59:
        tags.notes.append(not_possible(marked("offset from UTC"), text[:20]))
        return None
    return -minutes if match.group(1) == "-" else minutes
