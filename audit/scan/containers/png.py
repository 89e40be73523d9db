"""PNG: the Exif block in its eXIf chunk, or as hexadecimal text, as some programs write it.

Layout: PNG, third edition (W3C); the text "Raw profile type exif" is common practice, no source.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator

from audit.scan.containers.found import Found, exif_blocks
from audit.scan.containers.source import READ_LIMIT, Source

MAGIC = b"\x89PNG\r\n\x1a\n"
CHUNK_LIMIT = 1 << 16
_TEXTS = (b"tEXt", b"zTXt")
_KEYWORD = b"Raw profile type exif\0"
_PROFILE = re.compile(rb"\s*exif\s+\d+\s+([0-9a-fA-F\s]+)")


def find(source: Source) -> Found:
    """The Exif block of a PNG file and the size of its picture."""
    found = Found("PNG")
    texts: list[bytes] = []
    for kind, offset, length in _chunks(source):
        if kind == b"IHDR":
            size = source.at(offset, 9)
            found.width_px, found.height_px = (
                int.from_bytes(size[:4], "big") or None,
                int.from_bytes(size[4:8], "big") or None,
            )
            found.bits = size[8] if len(size) > 8 else None
        elif kind == b"eXIf":
            texts.insert(0, source.at(offset, length))
        elif kind in _TEXTS and source.at(offset, len(_KEYWORD)) == _KEYWORD:
            texts.append(_profile(source.at(offset + len(_KEYWORD), length - len(_KEYWORD)), kind == b"zTXt"))
    found.blocks = next(filter(None, map(exif_blocks, texts)), [])
    return found


def _chunks(source: Source) -> Iterator[tuple[bytes, int, int]]:
    """Kind, and where its content lies, of each chunk; ends at the first that cannot be right."""
    offset = len(MAGIC)
    for _ in range(CHUNK_LIMIT):
        head = source.at(offset, 8)
        length = int.from_bytes(head[:4], "big")
        if len(head) < 8 or offset + 12 + length > source.size:
            return
        yield head[4:], offset + 8, length
        offset += 12 + length


def _profile(text: bytes, packed: bool) -> bytes:
    """The bytes that such a text stands for; none where it is damaged."""
    try:
        # The first byte says how it is packed; there is only one way.
        plain = zlib.decompressobj().decompress(text[1:], READ_LIMIT) if packed else text
    except zlib.error:
        return b""
    match = _PROFILE.match(plain)
    digits = b"".join(match.group(1).split()) if match else b""
    return bytes.fromhex(digits[: len(digits) // 2 * 2].decode("ascii"))
