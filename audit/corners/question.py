"""A question about a rig's corners, in ids of the kit and in numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Question:
    """What was asked, as given; None and () where it was not."""

    lens: str | None = None
    focal_mm: tuple[float, ...] = ()
    f_numbers: tuple[float, ...] = ()
    sensor_mm: tuple[float, float] | None = None
    thread_mm: float | None = None
    depth_mm: float | None = None
    depth_err_mm: float | None = None
    ring: str | None = None
    holder: str | None = None
    slots: int | None = None
    front: bool = False
    second: str | None = None
    turn_deg: float | None = None
    second_turn_deg: float | None = None
    shift_mm: tuple[float, float] | None = None
    hood: str | None = None
    behind: tuple[str, ...] = ()
