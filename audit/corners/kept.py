"""Predictions, clean crops and widest clear focal lengths kept between runs: only what is new is reckoned.

A key holds every number that a result follows from, exactly as it is, and a digest of the program.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, NamedTuple, Self, TypeVar

import numpy as np

from audit.corners.answer import Widest
from audit.corners.predict import GRID, Geometry, predict, pupil_depth
from audit.corners.prediction import LADDER, Prediction
from audit.crew import wire
from audit.declare.rig import Rig
from audit.disk.kept import Kept, program
from audit.kit.kit import Lens
from audit.message.text import Text
from audit.optics.crop import Crop, clean_crop

NAME = "corners.sqlite"
MOST_BYTES = 300_000_000
"""Of all that is kept: three maps of 20 kB for each prediction, some 5,000 of them."""
ROOMS = ("corners", "kit", "message", "optics")
"""Whose modules decide what comes out, its words included."""
_MAPS = ("best", "middle", "worst")
_SHAPE = GRID[1], GRID[0]
_ANGLES = ("angle_deg", "early_deg", "late_deg")
_ENDS = ("best_mm", "middle_mm", "worst_mm", "floor_mm")


class Crops(NamedTuple):
    """Clean crops in the middle and at the worst end of the band; None where nothing is clean."""

    middle: Crop | None
    worst: Crop | None


_Made = Prediction | Widest | Crops
_T = TypeVar("_T", bound=_Made)


class KeptCorners:
    """What rigs cut, from the file beside `cache` where just the same was reckoned before."""

    def __init__(self, cache: Path | None) -> None:
        """None: nothing is kept."""
        self._kept: Kept[_Made] | None = None
        if cache is not None:
            self._kept = Kept(cache.with_name(NAME), "corner", packed, unpacked, MOST_BYTES)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        """Writes what is new, and closes the file."""
        if self._kept is not None:
            self._kept.close()

    @property
    def fault(self) -> str:
        """What ended the use of the file, or ""."""
        return self._kept.fault if self._kept is not None else ""

    def predicted(self, rig: Rig, geometry: Geometry, lens: Lens | None) -> Prediction:
        """As `predict`."""
        return self._once(
            Prediction,
            lambda: predict(rig, geometry, lens),
            lambda: (*_front(rig), geometry, pupil_depth(lens, geometry)),
        )

    def crops(self, prediction: Prediction, size_px: tuple[int, int]) -> Crops:
        """The largest clean crops of the picture's own shape."""
        maps = prediction.middle, prediction.worst
        return self._once(
            Crops,
            lambda: Crops(*(clean_crop(one, *size_px, "same") for one in maps)),
            lambda: (*maps, size_px),
        )

    def widest(self, made: Callable[[], Widest], rig: Rig, lens: Lens | None, *told: object) -> Widest:
        """As `made` finds it; `told` is all that it follows from besides rig and lens."""
        return self._once(
            Widest, made, lambda: (*_front(rig), None if lens is None else lens.model_dump(), *told)
        )

    def _once(
        self, kind: type[_T], made: Callable[[], _T], follows_from: Callable[[], tuple[object, ...]]
    ) -> _T:
        if self._kept is None or not self._kept.usable:
            return made()
        key = _key(kind.__name__, *follows_from())
        found = self._kept.get(key)
        if isinstance(found, kind):
            return found
        fresh = made()
        self._kept.put(key, fresh)
        return fresh


def _front(rig: Rig) -> tuple[object, ...]:
    """What of a rig cuts, with the words that tell of it."""
    return rig.openings, rig.rails, rig.shift_mm


def _key(*parts: object) -> str:
    return wire.packed(_plain((program(*ROOMS), np.__version__, *parts))).hex()


def _plain(value: Any) -> Any:
    """Numbers to the last bit, texts with what they are made of, in lists."""
    if isinstance(value, np.ndarray):
        return [list(value.shape), np.ascontiguousarray(value, "<f8").tobytes()]
    if isinstance(value, Mapping):
        return [[_plain(key), _plain(one)] for key, one in value.items()]
    if isinstance(value, (tuple, list)):
        return [_plain(one) for one in value]
    if is_dataclass(value):
        return [type(value).__name__, *(_plain(getattr(value, one.name)) for one in fields(value))]
    if isinstance(value, str) and not isinstance(
        value, Text
    ):  # one of a TOML file's may be a kind of its own
        return str(value)
    return value


def packed(made: _Made) -> bytes:
    """The values as plain data."""
    if isinstance(made, Widest):
        return wire.packed([float(getattr(made, end)) for end in _ENDS])
    if isinstance(made, Crops):
        return wire.packed([None if one is None else _crop_values(one) for one in made])
    maps = [np.ascontiguousarray(getattr(made, name), "<f8") for name in _MAPS]
    if any(one.shape != _SHAPE for one in maps):
        return b""
    angles = [float(getattr(made, name)) for name in _ANGLES]
    ladder = [float(one) for one in made.angles_deg]
    together = b"".join(one.tobytes() for one in maps)
    return wire.packed([angles, ladder, made.limits, list(made.assumed), together])


def unpacked(data: bytes) -> _Made | None:
    """What `packed` made these bytes of, or None."""
    try:
        values = wire.unpacked(data)
    except ValueError:
        return None
    match values:
        case [float(best), float(middle), float(worst), float(floor)]:
            return Widest(best, middle, worst, floor)
        case [None | list() as middle, None | list() as worst]:
            return _crops(middle, worst)
        case [list(angles), list(ladder), str(limits), list(assumed), bytes(maps)]:
            return _prediction(angles, ladder, limits, assumed, maps)
    return None


def _crop_values(crop: Crop) -> list[int | float]:
    edges = crop.left_px, crop.top_px, crop.width_px, crop.height_px
    return [*(int(one) for one in edges), float(crop.share)]


def _crops(*both: list[Any] | None) -> Crops | None:
    for one in both:
        if one is not None and [type(number) for number in one] != [int, int, int, int, float]:
            return None
    return Crops(*(None if one is None else Crop(*one) for one in both))


def _prediction(
    angles: Sequence[Any], ladder: Sequence[Any], limits: str, assumed: Sequence[Any], maps: bytes
) -> Prediction | None:
    sound = (len(angles), len(ladder)) == (len(_ANGLES), len(LADDER))
    sound = sound and all(type(one) is float for one in (*angles, *ladder))
    sound = sound and all(isinstance(one, str) for one in assumed)
    if not sound or len(maps) != 8 * len(_MAPS) * GRID[0] * GRID[1]:
        return None
    best, middle, worst = np.frombuffer(maps, "<f8").reshape(len(_MAPS), *_SHAPE).copy()
    angle, early, late = angles
    return Prediction(angle, early, late, best, middle, worst, tuple(ladder), limits, tuple(assumed))
