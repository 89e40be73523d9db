"""Where and when the receiver stood, from a file's GPS directory; held in memory, never written anywhere."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from fractions import Fraction

from audit.message.text import marked
from audit.scan.tags import Tags, left_out
from audit.scan.times import EARLIEST_YEAR, LATEST_YEAR

_DATE = re.compile(r"(\d{4})[:/.-](\d\d)[:/.-](\d\d)$", re.ASCII)
_MOST = (24, 60, 61)
"""Hours, minutes and seconds are less; a leap second is the first second of the next day."""
_VOID = "V"  # GPSStatus: the receiver had no fix
_NOT_POSSIBLE = {
    "GPSLatitude": marked("latitude of the position is not possible"),
    "GPSLongitude": marked("longitude of the position is not possible"),
}


def position_values(tags: Tags) -> dict[str, object]:
    """`latitude_deg`, `longitude_deg` (both or neither) and `gps_at`, UTC.

    A half degree without its N, S, E or W, a fix marked void and the blank position 0, 0 tell no place. No
    note says more of a position than that it is not possible.
    """
    if (tags.text("GPS GPSStatus", "GPS Tag 0x0009") or "").upper() == _VOID:
        return {}
    latitude = _angle(tags, "GPSLatitude", "Tag 0x0001", 90, "NS")
    longitude = _angle(tags, "GPSLongitude", "Tag 0x0003", 180, "EW")
    if latitude is None or longitude is None or latitude == longitude == 0:
        return {"gps_at": _moment(tags)}
    return {"latitude_deg": latitude, "longitude_deg": longitude, "gps_at": _moment(tags)}


def _angle(tags: Tags, name: str, bare_ref: str, limit: int, sides: str) -> float | None:
    """Degrees from degrees, minutes and seconds; `bare_ref` is the reference's name in a split container."""
    parts = tags.fractions(f"GPS {name}", count=3)
    side = (tags.text(f"GPS {name}Ref", f"GPS {bare_ref}") or " ")[0].upper()
    if parts[0] is None or side not in sides:
        return None
    degrees = _degrees(*parts)
    if not 0 <= degrees <= limit:
        tags.notes.append(left_out(_NOT_POSSIBLE[name]))
        return None
    return degrees if side == sides[0] else -degrees


def _degrees(*parts: Fraction | None) -> float:
    """Degrees, minutes and seconds as one number, rounded once."""
    above, below = 0, 1
    for power, part in enumerate(parts):
        if part:
            scale = part.denominator * 60**power
            above, below = above * scale + part.numerator * below, below * scale
    return above / below


def _moment(tags: Tags) -> datetime | None:
    """Time of the fix, whole seconds; None where date or time is missing or impossible."""
    match = _DATE.match(tags.text("GPS GPSDate", "GPS GPSDateStamp", "GPS Tag 0x001D") or "")
    parts = tags.fractions("GPS GPSTimeStamp", "GPS Tag 0x0007", count=3)
    whole = [-1 if part is None else part.numerator // part.denominator for part in parts]
    if match is None or not all(0 <= n < most for n, most in zip(whole, _MOST, strict=True)):
        return None
    try:
        day = datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]
    except ValueError:
        return None
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        return None
    units = zip(parts, (3600, 60, 1), strict=True)
    seconds = sum(part.numerator * unit // part.denominator for part, unit in units if part)
    return day + timedelta(seconds=seconds)
