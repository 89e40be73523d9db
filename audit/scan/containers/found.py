"""What a container module hands back: the TIFF blocks it found, and what the container itself says."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

THUMBNAIL_LIMIT = 1 << 16  # bytes
MOST_PX = 1_000_000
"""A longer side is a fault of the file: common practice, no source."""

# A block's directory is a whole EXIF tree, or (in containers that split it) the Exif or the GPS part alone.
Part = Literal["whole", "exif", "gps"]


@dataclass(frozen=True)
class Block:
    """A TIFF block: its bytes, or None where the file itself is the block."""

    data: bytes | None
    part: Part = "whole"


@dataclass(frozen=True)
class Preview:
    """Place and size of a JPEG that a file embeds."""

    offset: int
    length: int
    width_px: int
    height_px: int

    @property
    def longest_px(self) -> int:
        """Its longer side."""
        return max(self.width_px, self.height_px)


@dataclass
class Found:
    """Blocks in the order in which their values count, and what was learned on the way.

    `bits` are those of a channel, `profile` an ICC profile. `jpegs` are offsets and lengths where the
    container says that a JPEG lies; `preview` is the one to use.
    """

    format: str
    blocks: list[Block] = field(default_factory=list)
    width_px: int | None = None
    height_px: int | None = None
    bits: int | None = None
    profile: bytes | None = None
    thumbnail: bytes | None = None
    jpegs: list[tuple[int, int]] = field(default_factory=list)
    preview: Preview | None = None
    tags: dict[str, object] = field(
        default_factory=dict
    )  # values that lie in no TIFF block, under EXIF names
    notes: list[str] = field(default_factory=list)
    problem: str | None = None


def as_thumbnail(data: bytes) -> bytes | None:
    """The bytes if they look like a JPEG picture small enough to keep, else None."""
    return data if data[:2] == b"\xff\xd8" and 4 < len(data) <= THUMBNAIL_LIMIT else None


def exif_blocks(data: bytes) -> list[Block]:
    """The TIFF block in some bytes, with or without EXIF's signature before it; none where it is none."""
    block = data.removeprefix(b"Exif\0\0")
    return [Block(block)] if is_tiff(block) else []


def is_tiff(data: bytes) -> bool:
    """Whether the bytes start like a TIFF block."""
    return data[:4] in (b"II*\0", b"MM\0*")
