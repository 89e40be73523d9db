"""Pictures with a colour in each corner, stored as a camera of each orientation stores them."""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

COLOURS = {"red": (200, 30, 30), "green": (30, 180, 30), "blue": (30, 30, 200), "yellow": (210, 200, 30)}
HELD = ("red", "green", "blue", "yellow")
"""From top left to bottom right, as the picture is held."""
_BACK = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}
"""What the camera did to a picture that each orientation turns upright (EXIF 2.32, tag 0x0112)."""


def held(size: tuple[int, int] = (900, 600), mark: int = 150) -> Image.Image:
    """The picture as it is held: grey, a colour in each corner, white in the middle."""
    picture = Image.new("RGB", size, (128, 128, 128))
    wide, high = size
    for n, name in enumerate(HELD):
        left, top = (n % 2) * (wide - mark), (n // 2) * (high - mark)
        picture.paste(COLOURS[name], (left, top, left + mark, top + mark))
    picture.paste((250, 250, 250), (wide // 2 - 40, high // 2 - 40, wide // 2 + 40, high // 2 + 40))
    return picture


def stored(picture: Image.Image, orientation: int) -> Image.Image:
    """The same as its file holds it."""
    return picture.transpose(_BACK[orientation]) if orientation in _BACK else picture


def jpeg(picture: Image.Image, orientation: int = 1, exif: dict[int, object] | None = None) -> bytes:
    """A file of it, with a model and an orientation."""
    tags = Image.Exif()
    tags[0x0110], tags[0x0112] = "Brattholm Tarn", orientation
    for tag, value in (exif or {}).items():
        tags[tag] = value
    out = io.BytesIO()
    stored(picture, orientation).save(out, "JPEG", quality=95, exif=tags)
    return out.getvalue()


def photograph(path: Path, orientation: int = 1, size: tuple[int, int] = (900, 600)) -> Path:
    """Writes one."""
    path.write_bytes(jpeg(held(size), orientation))
    return path


def colour_at(data: bytes, x: float, y: float) -> str:
    """Which of the colours lies at a place, as shares of width and height; "" for none of them."""
    picture = Image.open(io.BytesIO(data)).convert("RGB")
    found = picture.getpixel((int(x * (picture.width - 1)), int(y * (picture.height - 1))))
    assert isinstance(found, tuple)
    far = {n: max(abs(a - b) for a, b in zip(c, found, strict=True)) for n, c in COLOURS.items()}
    nearest = min(far, key=lambda name: far[name])
    return nearest if far[nearest] < 40 else ""
