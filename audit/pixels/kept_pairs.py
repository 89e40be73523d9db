"""Comparisons of two small pictures kept between runs: what takes longest once the pictures are known."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np

from audit.crew import wire
from audit.disk.kept import Kept, program
from audit.optics.response import Curve
from audit.pixels.cache import pack
from audit.pixels.cast import Cast
from audit.pixels.compare import MAP_ROWS, BareComparison, against
from audit.pixels.pair import Pair
from audit.pixels.shots import Shot
from audit.pixels.sketch import Sketch
from audit.pixels.static import CornerLoss

NAME = "pairs.sqlite"
MOST_BYTES = 500_000_000
MOST_CELLS = 100 * MAP_ROWS**2

Values = dict[str, Any]
_NUMBERS = {
    "pair": ("stops", "err_stops", "moved"),
    "corners": ("stops", "err_stops", "threshold_stops", "step_stops"),
    "cast": ("uv", "err_uv", "mired"),
}


class KeptPairs:
    """`against`, from the file beside `cache` where the same two were held before in the same way."""

    def __init__(self, cache: Path | None) -> None:
        """None: nothing is kept."""
        self._kept: Kept[Values] | None = None
        if cache is not None:
            self._kept = Kept(cache.with_name(NAME), "pair", wire.packed, _sound, MOST_BYTES)

    def against(self, shot: Shot, partner: Shot, bare: Sketch, worn: Sketch, curve: Curve) -> BareComparison:
        """As `compare.against`."""
        if self._kept is None or not self._kept.usable:
            return against(shot, partner, bare, worn, curve)
        key = _key(shot, partner, bare, worn, curve)
        values = self._kept.get(key)
        if values is not None:
            return _comparison(shot, partner, values)
        held = against(shot, partner, bare, worn, curve)
        self._kept.put(key, _values(held))
        return held

    def close(self) -> None:
        """Writes what is new, and closes the file."""
        if self._kept is not None:
            self._kept.close()


def _key(shot: Shot, partner: Shot, bare: Sketch, worn: Sketch, curve: Curve) -> str:
    """All that a comparison depends on."""
    pictures = [hashlib.sha256(pack(one)).hexdigest() for one in (bare, worn)]
    told = (shot.uneven, bool(shot.glasses), shot.fixed_white_balance, shot.f_number)
    other = (partner.frame, partner.is_bare, partner.fixed_white_balance, partner.f_number)
    versions = program("pixels", "optics"), np.__version__
    return repr((versions, pictures, told, other, curve.coefficients, curve))


def _values(held: BareComparison) -> Values:
    parts = {"pair": held.pair, "corners": held.corners, "cast": held.cast}
    values: Values = {
        f"{part} {name}": float(getattr(parts[part], name))
        for part, names in _NUMBERS.items()
        for name in names
    }
    values |= {f"{part} why": one.why for part, one in parts.items()}  # type: ignore[attr-defined]
    darker = held.darker
    return values | {
        "shift_px": [float(shift) for shift in held.pair.shift_px],
        "four": [float(loss) for loss in held.corners.corners],
        "words": held.cast.words,
        "shape": list(darker.shape) if darker is not None else [],
        "darker": np.ascontiguousarray(darker, "<f8").tobytes() if darker is not None else b"",
    }


def _sound(data: bytes) -> Values | None:
    """The values, if they are those of a comparison."""
    try:
        values: Any = wire.unpacked(data)
    except ValueError:
        return None
    if not isinstance(values, dict):
        return None
    numbers = [values.get(f"{part} {name}") for part, names in _NUMBERS.items() for name in names]
    words = [values.get("words"), *(values.get(f"{part} why") for part in _NUMBERS)]
    shift, four, shape = (values.get(name) for name in ("shift_px", "four", "shape"))
    if not (isinstance(shift, list) and isinstance(four, list) and isinstance(shape, list)):
        return None
    sound = (len(shift), len(four)) == (2, 4) and all(type(one) is float for one in (*numbers, *shift, *four))
    sound = sound and all(isinstance(one, str) for one in words) and all(type(one) is int for one in shape)
    cells = shape[0] * shape[1] if sound and len(shape) == 2 and min(shape) > 0 else 0
    sound = sound and cells <= MOST_CELLS and (cells > 0) == bool(shape)
    darker = values.get("darker")
    return values if sound and isinstance(darker, bytes) and len(darker) == 8 * cells else None


def _comparison(shot: Shot, partner: Shot, values: Values) -> BareComparison:
    numbers = {part: {name: values[f"{part} {name}"] for name in names} for part, names in _NUMBERS.items()}
    right, down = values["shift_px"]
    a, b, c, d = values["four"]
    none = np.full((1, 1), np.nan)
    darker = None
    if values["shape"]:
        darker = np.frombuffer(values["darker"], "<f8").reshape(values["shape"]).copy()
    return BareComparison(
        shot,
        partner,
        Pair(**numbers["pair"], shift_px=(right, down), ratio=none, why=values["pair why"]),
        CornerLoss(**numbers["corners"], corners=(a, b, c, d), why=values["corners why"]),
        Cast(**numbers["cast"], words=values["words"], why=values["cast why"]),
        darker,
    )
