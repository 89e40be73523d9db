"""What the photographer declares: spans of frames and what was worn during each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field

from audit.kit.kit import Finite, FNumber, Name, Part, YesNo
from audit.message.text import marked
from audit.toml.fault import Fault

RIG_KEYS = (
    "rig",
    "behind",
    "ring",
    "holder",
    "slots",
    "front",
    "turn_deg",
    "polariser_turn_deg",
    "second_holder",
    "second_slots",
    "second_turn_deg",
    "hood",
)
"""Keys that say something is worn; `bare`, `unknown` and `neutral` exclude them."""

NO_NEUTRAL = "no-neutral"
"""The state of a span of which only that is known: no neutral was on, grads and a polariser are open."""

Moment = Annotated[datetime, Field(strict=True)]
"""A date with a time of day; a date alone would leave open which midnight is meant."""

Degrees = Annotated[float, Field(strict=True, ge=-360, le=360)]


class Worn(Part):
    """One span as written. Angles: clockwise seen from behind the camera, 0 = a grad dense at the top.

    `rig` is a named one of the kit, from which ring and holder come; so they do, from the rig of the lens,
    where filters stand without a holder. `slots` and `second_slots` run from back to front, "" leaves a slot
    empty; `behind` runs from the lens outwards. A turn that was not written is None and counts as 0.
    `stitched`: each frame of the span is part of a panorama, whose neighbours cover its corners. `neutral`
    "none" says that no neutral was on, and nothing else: a grad or a polariser may have been, on whatever
    ring and holder.
    """

    files: Annotated[tuple[Name, ...], Field(min_length=1, max_length=2)] | None = None
    times: tuple[Moment, Moment] | None = None
    body: Name | None = None
    lens: Name | None = None
    f_number: FNumber | None = None
    rig: Name | None = None
    behind: tuple[Name, ...] = ()
    ring: Name | None = None
    holder: Name | None = None
    slots: tuple[str, ...] = ()
    front: Name | None = None
    turn_deg: Degrees | None = None
    polariser_turn_deg: Degrees | None = None
    second_holder: Name | None = None
    second_slots: tuple[str, ...] = ()
    second_turn_deg: Degrees | None = None
    hood: Name | None = None
    shift_mm: tuple[Finite, Finite] | None = None
    eyepiece_covered: YesNo | None = None
    stitched: YesNo = False
    bare: YesNo = False
    unknown: YesNo = False
    neutral: Name | None = None
    source: Literal["estimated"] | None = None
    note: str | None = None

    @property
    def rig_keys(self) -> tuple[str, ...]:
        """Keys of this span that say something is worn, in the order of RIG_KEYS."""
        return tuple(key for key in RIG_KEYS if getattr(self, key) not in (None, ()))

    @property
    def state(self) -> str:
        """worn, bare, no-neutral or unknown."""
        if self.bare:
            return marked("bare")
        if self.neutral is not None:
            return NO_NEUTRAL
        return marked("unknown") if self.unknown else marked("worn")


@dataclass(frozen=True)
class Declaration:
    """One `filters.toml`. `folder` is relative to the dump with "/" ("." the dump itself), `path` as shown.

    `lines[i]` maps the keys of span i to their lines; "" is the line of its header.
    """

    worn: tuple[Worn, ...]
    path: str
    folder: str
    inherit: bool = True
    lines: tuple[Mapping[str, int], ...] = ()
    unread: Mapping[int, Fault] = field(default_factory=dict)
    """Spans that could not be understood, of which only the frames meant are kept, with the first fault."""
    short: frozenset[int] = frozenset()
    """Spans that are a line of [frames]."""
    unreadable: str = ""
    """Why the whole file says nothing."""

    def line(self, index: int, key: str = "") -> int:
        """Line of a key of span `index`, or of the span where the key is not written."""
        if index >= len(self.lines):
            return 0
        return self.lines[index].get(key, self.lines[index].get("", 0))
