"""Parts of a decoded picture, turned as it is held and encoded small: without profile, comment or EXIF."""

from __future__ import annotations

import io
from dataclasses import dataclass

from PIL import Image

LARGER_PX = 1080
"""Longest side of a larger view; a picture that is smaller stays as it is."""
CUT_PX = 240
"""Side of a cut at full size: four of them, and those of a bare frame, fit on one screen."""
LEAST_CUT_PX = 16
REDUCED_FIRST = 2.0
"""A large picture is first brought to twice the size that is wanted, by means: ten times as fast."""
QUALITIES = (82, 70, 55)
"""JPEG qualities of a larger view, tried in order until it is light enough."""
MOST_LARGER_BYTES = 200_000
CUT_QUALITY = 90
"""So high that what is seen in a cut is the photograph's own noise and sharpness."""
TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What makes a picture of each EXIF orientation upright (EXIF 2.32, tag 0x0112)."""


@dataclass(frozen=True)
class Encoded:
    """A JPEG and its size."""

    jpeg: bytes
    width_px: int
    height_px: int


def larger(picture: Image.Image, orientation: int, longest_px: int = LARGER_PX) -> Encoded:
    """The whole picture, upright, at most so long [px] and of at most MOST_LARGER_BYTES where that can be."""
    scale = min(1.0, longest_px / max(picture.size))
    size = max(1, round(picture.width * scale)), max(1, round(picture.height * scale))
    small = picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=REDUCED_FIRST)
    small = turned(small.convert("RGB"), orientation)
    made = encoded(small, QUALITIES[0])
    for quality in QUALITIES[1:]:
        if len(made.jpeg) > MOST_LARGER_BYTES:
            made = encoded(small, quality)
    return made


def corners(picture: Image.Image, orientation: int, side_px: int = CUT_PX) -> tuple[Encoded, ...]:
    """Squares from the four corners, pixel for pixel: top left, top right, bottom left, bottom right.

    These are the corners of the picture as it is held. A picture with a side of less than two squares gives
    smaller ones; one that is tiny gives none.
    """
    width, height = picture.size
    side = min(side_px, width // 2, height // 2)
    if side < LEAST_CUT_PX:
        return ()
    boxes = [(x, y, x + side, y + side) for y in (0, height - side) for x in (0, width - side)]
    return tuple(_cut(picture, boxes[n], orientation) for n in _as_held(orientation))


def middle(picture: Image.Image, orientation: int, side_px: int = CUT_PX) -> Encoded | None:
    """A square around the middle, pixel for pixel and upright; None for a tiny picture."""
    width, height = picture.size
    side = min(side_px, width, height)
    if side < LEAST_CUT_PX:
        return None
    left, top = (width - side) // 2, (height - side) // 2
    return _cut(picture, (left, top, left + side, top + side), orientation)


def turned(picture: Image.Image, orientation: int) -> Image.Image:
    """The picture as it is held; an orientation that EXIF does not know turns nothing."""
    return picture.transpose(TURNS[orientation]) if orientation in TURNS else picture


def encoded(picture: Image.Image, quality: int, *, whole_colour: bool = False) -> Encoded:
    """A JPEG of nothing but the pixels. `whole_colour` keeps the colour of each pixel."""
    clean = Image.new("RGB", picture.size)  # a new picture carries no comment, profile or EXIF block
    clean.paste(picture)
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=quality, optimize=True, subsampling=0 if whole_colour else 2)
    return Encoded(out.getvalue(), *clean.size)


def _cut(picture: Image.Image, box: tuple[int, int, int, int], orientation: int) -> Encoded:
    part = picture.crop(box).convert("RGB")
    return encoded(turned(part, orientation), CUT_QUALITY, whole_colour=True)


def _as_held(orientation: int) -> list[int]:
    """Which corner of the stored picture (0 to 3, by rows) lies at each corner of it as it is held."""
    numbers = Image.frombytes("L", (2, 2), bytes(range(4)))
    return list(turned(numbers, orientation).tobytes())
