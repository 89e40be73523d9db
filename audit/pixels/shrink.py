"""From a decoded picture to its sketch: box means of grey and colour, shares of clipped and black pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageChops

from audit.message.text import marked
from audit.pixels.sketch import BLACK_CODE, CLIPPED_CODE, COLOUR_CELL_PX, LONGEST_SIDE_PX, Shares, Sketch

Size = tuple[int, int]
FULL_DECODE, REDUCED_DECODE = marked("full decode"), marked("reduced decode")
EMBEDDED, RAW = marked("embedded preview"), marked("raw half-size")
SOURCES = frozenset({FULL_DECODE, REDUCED_DECODE, EMBEDDED, RAW})
"""Where a sketch comes from: constants, since those kept between runs hold them as plain text."""
VERSION = 1
"""Of this measurement: a change of what a sketch holds counts it up, so that kept ones are made anew."""


def sketch(picture: Image.Image, source: str, *, exact: bool, shape: Size | None = None) -> Sketch:
    """The sketch of a decoded picture.

    `shape` is the photograph's full size, width and height [px]: its proportions settle the sketch's, so
    that sketches of one camera are alike whatever they were made from. `exact` says that the picture
    has all of the photograph's own pixels.
    """
    colour = picture if picture.mode == "RGB" else picture.convert("RGB")
    columns, rows = _grey_size(colour.size, shape or colour.size)
    clipped, black = _shares(colour)
    return Sketch(
        grey=np.array(colour.convert("L").resize((columns, rows), Image.Resampling.BOX), dtype=np.uint8),
        colour=_cells(colour, columns, rows),
        clipped=clipped,
        black=black,
        source=source,
        width_px=colour.width,
        height_px=colour.height,
        exact=exact,
    )


def _grey_size(size: Size, shape: Size) -> Size:
    longest = min(LONGEST_SIDE_PX, max(size))
    scale = longest / max(shape)
    return max(1, round(shape[0] * scale)), max(1, round(shape[1] * scale))


def _cells(colour: Image.Image, columns: int, rows: int) -> NDArray[np.uint8]:
    """Mean colour of each whole cell of the grey picture."""
    across, down = columns // COLOUR_CELL_PX, rows // COLOUR_CELL_PX
    if not across or not down:
        return np.zeros((down, across, 3), dtype=np.uint8)
    right = colour.width * across * COLOUR_CELL_PX / columns
    bottom = colour.height * down * COLOUR_CELL_PX / rows
    small = colour.resize((across, down), Image.Resampling.BOX, box=(0, 0, right, bottom))
    return np.array(small, dtype=np.uint8)


def _shares(colour: Image.Image) -> tuple[Shares, Shares]:
    """Shares of clipped and of black pixels in each ninth, (3, 3) each.

    A ninth at a time, and by histogram: little memory however large the picture is.
    """
    clipped, black = np.zeros((3, 3)), np.zeros((3, 3))
    x = [round(colour.width * third / 3) for third in range(4)]
    y = [round(colour.height * third / 3) for third in range(4)]
    for row in range(3):
        for column in range(3):
            ninth = colour.crop((x[column], y[row], x[column + 1], y[row + 1]))
            red, green, blue = ninth.split()
            # All channels are dark, or one is bright, as the brightest of them is.
            brightest = ImageChops.lighter(ImageChops.lighter(red, green), blue).histogram()
            count = max(1, sum(brightest))
            clipped[row, column] = sum(brightest[CLIPPED_CODE:]) / count
            black[row, column] = sum(brightest[: BLACK_CODE + 1]) / count
    return clipped, black
