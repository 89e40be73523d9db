"""The largest crop of a picture that keeps the dark corners out.

A loss map's outermost cells lie on the picture's edge, so its cells are the corners of a net of small
boxes. A crop is clean when it lies within boxes whose corners all are; between cells the map is taken to
run without bumps. What is left out is thus at most one cell too much on each side, never too little.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audit.optics.arrays import Floats

Whole = NDArray[np.int64]

SHAPES = {"3:2": (3, 2), "4:5": (5, 4), "1:1": (1, 1), "16:9": (16, 9), "2:1": (2, 1)}
"""Long and short side of the named shapes; "same" is the picture's own shape, "free" any."""

TURNS = {
    1: (False, False, False),
    2: (True, False, False),
    3: (True, True, False),
    4: (False, True, False),
    5: (False, False, True),
    6: (False, True, True),
    7: (True, True, True),
    8: (True, False, True),
}
"""From stored to shown by EXIF orientation: left and right change, top and bottom do, then x and y do."""


@dataclass(frozen=True)
class Crop:
    """A crop, from the picture's top left corner.

    Attributes
    ----------
    left_px : [px]
    top_px : [px]
    width_px : [px]
    height_px : [px]
    share : of the picture's area that it keeps [1]
    """

    left_px: int
    top_px: int
    width_px: int
    height_px: int
    share: float

    @property
    def words(self) -> str:
        """Left, top, width and height as text [px]."""
        return f"{self.left_px}, {self.top_px}, {self.width_px}, {self.height_px}"

    @classmethod
    def read(cls, words: str, share: float) -> Crop:
        """The crop that `words` came from.

        Parameters
        ----------
        words : left, top, width and height, four whole numbers with commas [px]
        share : of the picture's area [1]

        Returns
        -------
        the crop [-]

        Raises
        ------
        ValueError
            Where `words` are not four whole numbers.

        Source
        ------
        What `Crop.words` writes.
        """
        left, top, width, height = (int(part) for part in words.split(","))
        return cls(left, top, width, height, share)


@dataclass(frozen=True)
class _Boxes:
    """Clean boxes in whole pixels, arrays of one shape: left and right, top and bottom edges."""

    left: Whole
    right: Whole
    top: Whole
    bottom: Whole

    def centred(self, width: int, height: int) -> _Boxes:
        """The largest boxes around the middle of a picture that these hold."""
        across = np.maximum(self.left, width - self.right)
        down = np.maximum(self.top, height - self.bottom)
        return _Boxes(across, width - across, down, height - down)


def clean_crop(
    loss_map: ArrayLike,
    width_px: int,
    height_px: int,
    shape: str = "same",
    *,
    most_loss: float = 0.5,
    centred: bool = False,
) -> Crop | None:
    """Largest crop of a shape without a cell that loses too much.

    Of equal crops the one nearest to the middle wins.

    Parameters
    ----------
    loss_map : (rows, columns), 2 x 2 or more, row 0 the top of the picture as stored [stop]
        NaN counts as too much.
    width_px : of the picture [px]
    height_px : of the picture [px]
    shape : "same", one of SHAPES, or "free" [-]
        It lies as the picture does: 3:2 of an upright picture is 2:3.
    most_loss : that a cell may have [stop]
    centred : whether the crop keeps the picture's middle in its own [-]

    Returns
    -------
    the crop; None where there is none [-]

    Raises
    ------
    ValueError
        For an unknown shape, a smaller map or a picture without area.

    Source
    ------
    Own derivation; beside every crop there is, tried in turn.
    """
    losses = np.asarray(loss_map, dtype=float)
    if losses.ndim != 2 or min(losses.shape) < 2 or min(width_px, height_px) < 1:
        raise ValueError("a loss map of 2 x 2 cells or more and a picture with pixels are needed")
    ratio = _ratio(shape, width_px, height_px)
    best: tuple[int, int, Crop] | None = None
    for boxes in _clean_boxes(losses <= most_loss, width_px, height_px):
        inside = boxes.centred(width_px, height_px) if centred else boxes
        found = _largest(inside, width_px, height_px, ratio)
        if found is not None and (best is None or found[:2] > best[:2]):
            best = found
    return None if best is None else best[2]


def oriented(crop: Crop, orientation: int, width_px: int, height_px: int) -> Crop:
    """A crop of the stored picture where it lies in the picture as shown.

    Parameters
    ----------
    crop : of the stored picture [-]
    orientation : of EXIF, 1 to 8; any other counts as 1 [1]
    width_px : of the stored picture [px]
    height_px : of the stored picture [px]

    Returns
    -------
    the same crop of the picture as shown [-]

    Source
    ------
    Exif 2.32, tag 274.
    """
    across, down, swapped = TURNS.get(orientation, TURNS[1])
    left, top, wide, high = crop.left_px, crop.top_px, crop.width_px, crop.height_px
    left = width_px - left - wide if across else left
    top = height_px - top - high if down else top
    if swapped:
        left, top, wide, high = top, left, high, wide
    return Crop(left, top, wide, high, crop.share)


def _ratio(shape: str, width: int, height: int) -> tuple[int, int] | None:
    """Width and height in proportion, None for any; raises ValueError for an unknown shape."""
    if shape == "free":
        return None
    if shape == "same":
        return width, height
    if shape not in SHAPES:
        raise ValueError(f'shape "{shape}" is unknown; take same, {", ".join(SHAPES)} or free')
    long, short = SHAPES[shape]
    return (long, short) if width >= height else (short, long)


def _clean_boxes(clean: NDArray[np.bool_], width: int, height: int) -> Iterator[_Boxes]:
    """For each top row: all boxes down to each row and across to each column, as far left as they go."""
    rows, columns = clean.shape
    x, y = np.arange(columns) * width / (columns - 1), np.arange(rows) * height / (rows - 1)
    # Whole pixels, inwards: the first pixel's edge right of a cell, the last one's left of it.
    x_first, x_last, y_last = _up(x), _down(x), _down(y)
    for top in range(rows - 1):
        open_down = np.logical_and.accumulate(clean[top:], axis=0)[1:]
        dirty = np.where(open_down, 0, np.arange(1, columns + 1))
        start = np.minimum(np.maximum.accumulate(dirty, axis=1), columns - 1)
        right = np.where(open_down, x_last, 0)
        bottom = np.broadcast_to(y_last[top + 1 :, None], right.shape)
        yield _Boxes(x_first[start], right, np.full(right.shape, _up(y)[top]), bottom)


def _largest(
    boxes: _Boxes, width: int, height: int, ratio: tuple[int, int] | None
) -> tuple[int, int, Crop] | None:
    """(area, minus the distance from the middle, crop) of the best crop in some boxes."""
    wide, high = np.maximum(boxes.right - boxes.left, 0), np.maximum(boxes.bottom - boxes.top, 0)
    if ratio is not None:
        wide = np.minimum(wide, high * ratio[0] // ratio[1])
        high = wide * ratio[1] // ratio[0]
    area = wide * high
    if not area.any():
        return None
    left = np.clip((width - wide) // 2, boxes.left, boxes.right - wide)
    top = np.clip((height - high) // 2, boxes.top, boxes.bottom - high)
    away = (2 * left + wide - width) ** 2 + (2 * top + high - height) ** 2
    away = np.where(area == area.max(), away, np.iinfo(np.int64).max)
    at = np.unravel_index(int(np.argmin(away)), away.shape)
    size = int(area[at])
    crop = Crop(int(left[at]), int(top[at]), int(wide[at]), int(high[at]), size / (width * height))
    return size, -int(away[at]), crop


def _up(places: Floats) -> Whole:
    """Whole pixels at or right of places, but for rounding errors."""
    return np.ceil(places - 1e-9).astype(np.int64)


def _down(places: Floats) -> Whole:
    """Whole pixels at or left of places, but for rounding errors."""
    return np.floor(places + 1e-9).astype(np.int64)
