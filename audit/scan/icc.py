"""The name of an ICC profile: the one thing of it that an order sheet tells.

Layout: ICC.1:2022 (version 4) and ICC.1:1998-09 (version 2), both from memory; a test
reads Pillow's own.
"""

from __future__ import annotations

from audit.scan.tags import clean_text

_HEAD_BYTES, _ENTRY_BYTES, _MOST_TAGS = 128, 12, 200


def profile_name(profile: bytes | None) -> str | None:
    """The description that a profile gives itself; None where there is none that can be read."""
    if not profile or len(profile) < _HEAD_BYTES + 4:
        return None
    for n in range(min(_whole(profile, _HEAD_BYTES), _MOST_TAGS)):
        at = _HEAD_BYTES + 4 + n * _ENTRY_BYTES
        if profile[at : at + 4] == b"desc":
            start = _whole(profile, at + 4)
            return _described(profile[start : start + _whole(profile, at + 8)])
    return None


def _described(tag: bytes) -> str | None:
    if tag[:4] == b"desc":  # version 2: ASCII with its length
        return clean_text(tag[12 : 12 + _whole(tag, 8)])
    if tag[:4] == b"mluc":  # version 4: UTF-16 in several languages, the first is taken
        length, start = _whole(tag, 20), _whole(tag, 24)
        return clean_text(tag[start : start + length].decode("utf-16-be", "replace"))
    return None


def _whole(data: bytes, at: int) -> int:
    return int.from_bytes(data[at : at + 4], "big")
