"""Names in a bag: what is renamed because readers disagree on it, and percent signs as RFC 8493 has them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

_SEPARATORS = "\u2028\u2029"


def safe_name(name: bytes) -> str:
    """A path that every reader takes alike: each byte that some do not is written as _ and two hex digits.

    These are %, CR, LF and other control characters, line separators, backslashes, blanks at the end of a
    name, and bytes that are not UTF-8 (RFC 8493, 2.1.3 for the first; the others are what readers of bags
    strip or split at: common practice, no source).
    """
    return "/".join(_safe_part(part) for part in name.split(b"/"))


def _safe_part(part: bytes) -> str:
    text = part.decode("utf-8", "surrogateescape")
    kept = len(text.rstrip())
    return "".join(_safe(c) if _unsafe(c) or at >= kept else c for at, c in enumerate(text))


def _unsafe(character: str) -> bool:
    category = unicodedata.category(character)
    return character in "%\\" or character in _SEPARATORS or category in ("Cc", "Cs")


def _safe(character: str) -> str:
    return "".join(f"_{byte:02x}" for byte in character.encode("utf-8", "surrogateescape"))


def safe_names(names: Iterable[bytes]) -> dict[bytes, str]:
    """Each name with the one it gets; no two get the same, and a good name is always kept."""
    everything = sorted(names)
    found = {name: safe_name(name) for name in everything}
    kept = {new for name, new in found.items() if new.encode("utf-8") == name}
    taken = set(kept)
    for name in everything:
        new, number = found[name], 1
        if new in kept and new.encode("utf-8") == name:
            continue
        while new in taken:
            number += 1
            new = f"{found[name]}-{number}"
        found[name] = new
        taken.add(new)
    return found


def decoded(path: str, *, percent: bool) -> str:
    """A path of a manifest as it is on the disk: %0D, %0A and, from version 1.0 of BagIt on, %25."""
    for code, character in (("%0D", "\r"), ("%0d", "\r"), ("%0A", "\n"), ("%0a", "\n")):
        path = path.replace(code, character)
    return path.replace("%25", "%") if percent else path


def leads_out(path: str) -> bool:
    """Whether a path of a manifest could lead out of the bag."""
    parts = path.replace("\\", "/").split("/")
    return path.startswith(("/", "~", "\\")) or ".." in parts or ":" in parts[0] or "\0" in path
