"""What every table of a kit or declaration is built on."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

Name = Annotated[str, Field(min_length=1, pattern=r"^\S(.*\S)?$")]
Positive = Annotated[float, Field(strict=True, gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0, allow_inf_nan=False)]
Finite = Annotated[float, Field(strict=True, allow_inf_nan=False)]
YesNo = Annotated[bool, Field(strict=True)]
Whole = Annotated[int, Field(strict=True, gt=0)]


class Part(BaseModel):
    """Anything written as a TOML table: unknown keys are refused, values never change."""

    model_config = ConfigDict(frozen=True, extra="forbid")


def rule(key: str, text: str) -> PydanticCustomError:
    """A mistake in several keys of one table, shown at `key`."""
    return PydanticCustomError("rule", "{text}", {"key": key, "text": text})
