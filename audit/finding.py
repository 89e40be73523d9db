"""What a check has to say about some frames."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from audit.message.text import marked

LEVELS = (marked("act"), marked("look"), marked("note"))
"""act: spoilt or wrong, do something; look: doubtful, open the frames; note: worth knowing."""

Status = Literal["ran", "not run", "failed"]


@dataclass(frozen=True)
class Finding:
    """One observation on one or more frames.

    `sure` says how the numbers were obtained: predicted, measured, declared, estimated or assumed.
    `by` is the size of the difference with its unit, where there is one. `evidence` are the frames that were
    compared, its own first, each with the light that it implies (EV100).
    """

    check: str
    level: str
    frames: tuple[str, ...]
    seen: str
    expected: str
    sure: str
    advice: str
    by: str = ""
    cause: str = ""
    evidence: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class CheckInfo:
    """What stands beside a check: shown by `cornerstop explain`, in docs/checks.md and in the report."""

    id: str
    title: str
    why: str
    threshold: str
    source: str
    advice: str
    needs: tuple[str, ...]


@dataclass(frozen=True)
class CheckRun:
    """How one check went, the number of its findings, and in words why it did not run or failed."""

    info: CheckInfo
    status: Status
    count: int
    why: str = ""

    @property
    def outcome(self) -> str:
        """How it went, in words."""
        return self.why or self.status
