"""Black bars that fill up an embedded picture of another shape than the photograph."""

from __future__ import annotations

from PIL import Image

SAME_SHAPE = 0.02
"""Two aspects nearer than this are one: embedded pictures are rounded to whole or even pixels."""
DARKEST = 40
"""Bars are no lighter than this, of 255: black with the ringing of JPEG."""
LEAST_PX, LEAST_BAR_PX = 8, 3


def without_bars(picture: Image.Image, aspect: float) -> Image.Image | None:
    """The picture's middle of the shape `aspect` (width / height), where what lies beside it is black.

    The picture itself where it has that shape already, None where it shows something else.
    """
    width, height = picture.size
    if abs(width / height / aspect - 1) <= SAME_SHAPE:
        return picture
    inner = min(width, round(height * aspect)), min(height, round(width / aspect))
    left, top = (width - inner[0]) // 2, (height - inner[1]) // 2
    if min(inner) < LEAST_PX or max(left, top) < LEAST_BAR_PX:
        return None
    # The row beside the border carries some of the picture, so it is not looked at.
    bars = [(0, 0, left - 2, height), (width - left + 2, 0, width, height)] if left else []
    bars += [(0, 0, width, top - 2), (0, height - top + 2, width, height)] if top else []
    grey = picture.convert("L")
    if any(int(grey.crop(bar).getextrema()[1]) > DARKEST for bar in bars):  # type: ignore[arg-type]
        return None
    return picture.crop((left, top, left + inner[0], top + inner[1]))
