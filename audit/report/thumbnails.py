"""Embedded thumbnails made fit to be shown: small, upright, without a word of metadata."""

from __future__ import annotations

import base64
import io
import struct
import warnings
from collections.abc import Callable
from dataclasses import dataclass

from PIL import Image, ImageOps

from audit.message.text import marked, say
from audit.pictures.upright import Encoded, encoded, turned
from audit.pixels.readers import without_bars

LONGEST_SIDE_PX = 160
MOST_PIXELS = 4_000_000
MOST_BYTES = 8_000_000
JPEG_QUALITY = 72


@dataclass(frozen=True)
class Opens:
    """What a thumbnail leads to: the page of its larger view, "" where there is none, and the file itself.

    `corners` says that the page shows the corners at full size, `beside` that it shows so the frames of the
    setup; `why` why a view that was asked for is none.
    """

    view: str = ""
    corners: bool = False
    beside: bool = False
    file: str = ""
    why: str = ""


NOTHING_MORE = Opens()


@dataclass(frozen=True)
class Thumbnail:
    """A picture's address with its size in px, or the reason why there is none; and what it opens."""

    uri: str = ""
    width_px: int = 0
    height_px: int = 0
    reason: str = ""
    opens: Opens = NOTHING_MORE


def data_uri(jpeg: bytes) -> str:
    """The picture within the page itself."""
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def thumbnail(
    jpeg: bytes | None,
    orientation: int = 1,
    aspect: float | None = None,
    place: Callable[[bytes], str] = data_uri,
) -> Thumbnail:
    """Re-encodes an embedded thumbnail to at most 160 px, turned as the frame's EXIF orientation asks.

    `place` takes the encoded picture and gives the address under which the page finds it. `aspect` is
    width / height of the picture as stored; black bars that fill a thumbnail of another shape are cut off.
    Never raises for a bad picture: the reason is in the answer. The size in the header is looked at before
    anything is decoded.
    """
    if not jpeg:
        return Thumbnail(reason=marked("no thumbnail in the file"))
    if len(jpeg) > MOST_BYTES:
        return Thumbnail(
            reason=say("thumbnail left out: larger than {limit} MB", limit=MOST_BYTES // 1_000_000)
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # Pillow warns of bombs; they are refused below in our own words
            with Image.open(io.BytesIO(jpeg), formats=["JPEG"]) as picture:
                small = _encode(picture, orientation, aspect)
    except Image.DecompressionBombError:
        limit = MOST_PIXELS // 1_000_000
        return Thumbnail(reason=say("thumbnail left out: more than {limit} megapixels", limit=limit))
    except (OSError, ValueError, SyntaxError, TypeError, struct.error, IndexError, KeyError, EOFError):
        return Thumbnail(reason=marked("thumbnail is damaged"))
    return (
        small
        if isinstance(small, Thumbnail)
        else Thumbnail(place(small.jpeg), small.width_px, small.height_px)
    )


def _encode(picture: Image.Image, orientation: int, aspect: float | None) -> Encoded | Thumbnail:
    if picture.width * picture.height > MOST_PIXELS:
        return Thumbnail(
            reason=say(
                "thumbnail left out: {width} x {height} px is more than {limit} megapixels",
                width=picture.width,
                height=picture.height,
                limit=MOST_PIXELS // 1_000_000,
            )
        )
    picture.draft("RGB", (2 * LONGEST_SIDE_PX, 2 * LONGEST_SIDE_PX))
    small = picture.convert("RGB")
    if aspect:
        small = without_bars(small, aspect) or small
    if max(small.size) > LONGEST_SIDE_PX:
        small = ImageOps.contain(small, (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    return encoded(turned(small, orientation), JPEG_QUALITY)
