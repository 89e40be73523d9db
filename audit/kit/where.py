"""Where the kit was used: what the top of `kit.toml` says of place and time zone."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import Field, field_validator, model_validator

from audit.kit.part import Part, rule
from audit.message.text import say

Latitude = Annotated[float, Field(strict=True, ge=-90, le=90, allow_inf_nan=False)]
Longitude = Annotated[float, Field(strict=True, ge=-180, le=180, allow_inf_nan=False)]

_OFFSET = re.compile(r"([+-])(\d\d):([0-5]\d)", re.ASCII)
LARGEST_OFFSET_MIN = 14 * 60
"""The easternmost zone in use."""


class Where(Part):
    """Keys of the kit outside its tables; the position serves the sun's altitude and is never written out."""

    place: Annotated[str, Field(strict=True)] | None = None
    latitude_deg: Latitude | None = None
    longitude_deg: Longitude | None = None
    utc_offset: Annotated[str, Field(strict=True)] | None = None

    @field_validator("utc_offset")
    @classmethod
    def _offset(cls, value: str | None) -> str | None:
        if value is not None and offset_min(value) is None:
            raise rule(
                "utc_offset", say('should be like "+02:00", not "{value_written}"', value_written=value)
            )
        return value

    @model_validator(mode="after")
    def _both(self) -> Where:
        given = [key for key in ("latitude_deg", "longitude_deg") if getattr(self, key) is not None]
        if len(given) == 1:
            other = "longitude_deg" if given[0] == "latitude_deg" else "latitude_deg"
            raise rule(given[0], say("needs {other_key} beside it", other_key=other))
        return self

    @property
    def position(self) -> tuple[float, float] | None:
        """Latitude and longitude in degrees, north and east positive."""
        if self.latitude_deg is None or self.longitude_deg is None:
            return None
        return self.latitude_deg, self.longitude_deg

    @property
    def utc_offset_min(self) -> int | None:
        """Minutes that the camera's zone is ahead of UTC."""
        return None if self.utc_offset is None else offset_min(self.utc_offset)


def offset_min(text: str) -> int | None:
    """Minutes of an offset like +02:00; None where it is none."""
    match = _OFFSET.fullmatch(text)
    if match is None:
        return None
    minutes = int(match.group(2)) * 60 + int(match.group(3))
    if minutes > LARGEST_OFFSET_MIN:
        return None
    return -minutes if match.group(1) == "-" else minutes
