"""Where and when: a position changed over or without its sign, a clock in minutes or hours."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from audit.kit.kit import Body
from audit.kit.readings import written
from audit.kit.where import Where
from audit.message.text import marked, say
from audit.toml.fault import Fault

LEAD_H = (-1.25, 3.75)
"""By how much a zone's clock is ahead of the sun's mean time: from India's east to the west of China, with
summer time an hour more. From memory of the map of time zones, no source."""

NORTHMOST_DEG = 71.5
"""Roads end here; a place further north that only a change of keys would make is not believed."""

SEA_N, SEA_E = (-4.0, 24.0), (60.0, 68.0)
"""Open sea between Arabia and India, where the north of Europe lies when changed over: from memory of the
map. Elsewhere a zone of home left on the camera explains as much, so that it is only noted."""

WEST_FROM_DEG = 60.0
"""A longitude without its sign is told from here on; nearer, a zone of home explains as much: assumed."""


def out_of_range(said: Mapping[str, Any]) -> str:
    """What to write where a latitude is beyond the pole and the longitude could be one; else nothing."""
    latitude, longitude = said.get("latitude_deg"), said.get("longitude_deg")
    if not isinstance(latitude, int | float) or not isinstance(longitude, int | float):
        return ""
    if not 90 < abs(latitude) <= 180 or abs(longitude) > 90:
        return ""
    return _over(latitude, longitude)


def place_faults(where: Where) -> Iterator[Fault]:
    """Doubts in a position that is possible: the zone fits another one of the same numbers."""
    if where.position is None or where.utc_offset_min is None:
        return
    latitude, longitude = where.position
    if _fits(longitude, where.utc_offset_min):
        return
    if longitude >= WEST_FROM_DEG and _fits(-longitude, where.utc_offset_min):
        words = marked(
            '{value_written} does not go with utc_offset = "{offset_written}"; west is negative: write '
            "longitude_deg = {meant_written}?"
        )
        said = {"value_written": written(longitude), "offset_written": where.utc_offset}
        yield Fault("longitude_deg", say(words, meant_written=written(-longitude), **said), "warning")
    elif abs(longitude) <= NORTHMOST_DEG and _fits(latitude, where.utc_offset_min):
        at_sea = SEA_N[0] <= latitude <= SEA_N[1] and SEA_E[0] <= longitude <= SEA_E[1]
        yield Fault("latitude_deg", _over(latitude, longitude), "warning" if at_sea else "note")


def _fits(longitude_deg: float, offset_min: int) -> bool:
    lead_h = (offset_min / 60 - longitude_deg / 15 + 12) % 24 - 12
    return LEAD_H[0] <= lead_h <= LEAD_H[1]


def _over(latitude: float, longitude: float) -> str:
    words = marked(
        "is it changed over with longitude_deg? write latitude_deg = {last_written} and longitude_deg = "
        "{first_written}"
    )
    return say(words, first_written=written(latitude), last_written=written(longitude))


SECONDS = re.compile(r"\b(?:s|sec|secs|seconds?)\b", re.IGNORECASE)
MINUTES = re.compile(r"(?:\b|(?<=\d))(?:min|mins|minutes?)\b", re.IGNORECASE)
HOURS = re.compile(r"(?:\b|(?<=\d))(?:h|hrs?|hours?)\b", re.IGNORECASE)
FIGURE = re.compile(r"\d+(?:\.\d+)?")
MOST_MIN, MOST_H = 60.0, 14.0
"""More than this would be written in the next unit: common practice, no source."""


def clock_faults(body: Body, remark: str) -> Iterator[Fault]:
    """A clock that the remark beside it gives in minutes or hours, by the same number."""
    ahead = body.clock_ahead_s
    figures = [float(number) for number in FIGURE.findall(remark)]
    if not ahead or SECONDS.search(remark) or (figures and figures != [abs(ahead)]):
        return
    minutes, hours = MINUTES.search(remark) is not None, HOURS.search(remark) is not None
    if minutes == hours or abs(ahead) > (MOST_MIN if minutes else MOST_H):
        return
    meant = written(ahead * (60 if minutes else 3600))
    words = marked("is in seconds; for {value_written} h write clock_ahead_s = {meant_written}?")
    if minutes:
        words = marked("is in seconds; for {value_written} min write clock_ahead_s = {meant_written}?")
    said = {"value_written": written(ahead), "meant_written": meant}
    yield Fault("clock_ahead_s", say(words, **said), "warning")
