"""What every table of a kit or declaration is built on."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from audit.optics.exposure import F_NUMBER_RANGE

Name = Annotated[str, Field(min_length=1, pattern=r"^\S(.*\S)?$")]
LEAST, MOST, ANY = 1e-3, 1e5, 1e9
"""No size is smaller or larger, and no number further from 0: a slip, which would overflow in a formula."""

Positive = Annotated[float, Field(strict=True, ge=LEAST, le=MOST, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, le=MOST, allow_inf_nan=False)]
Tolerance = Annotated[float, Field(strict=True, ge=0, le=10, allow_inf_nan=False)]
"""Millimetres or degrees by which a part may sit otherwise; more is a slip of unit."""
Finite = Annotated[float, Field(strict=True, ge=-ANY, le=ANY, allow_inf_nan=False)]

FNumber = Annotated[
    float, Field(strict=True, ge=F_NUMBER_RANGE[0], le=F_NUMBER_RANGE[1], allow_inf_nan=False)
]
KitRow = dict[str, float | bool | list[float]]
KitValue = float | list[list[float]] | list[KitRow] | None
"""What a command may write into a kit: a number, a table of numbers, one small table a line, or None to take
the key out."""
YesNo = Annotated[bool, Field(strict=True)]
Whole = Annotated[int, Field(strict=True, gt=0)]


class Part(BaseModel):
    """Anything written as a TOML table: unknown keys are refused, values never change."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def rule(key: str, text: str) -> PydanticCustomError:
    """A mistake in several keys of one table, shown at `key`."""
    return PydanticCustomError("rule", "{text}", {"key": key, "text": text})
