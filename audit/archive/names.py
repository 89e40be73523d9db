"""Names in a bag: what is renamed because readers disagree on it, and percent signs as RFC 8493 has them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from posixpath import splitext

from audit.message.shown import alike

_SEPARATORS = "\u2028\u2029"
_END = re.compile(r"[\s.]+$")
_NOT_EVERYWHERE = '<>:"|?*'
_DEVICE = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9\u00b9\u00b2\u00b3]) *(\.|$)", re.IGNORECASE)
"""Characters, and names whatever follows their dot, that Windows keeps for itself (Microsoft, "Naming Files,
Paths, and Namespaces")."""


def safe_name(name: bytes) -> str:
    """A path that every reader and system takes alike: each byte that some do not is written as _ and two hex
    digits.

    These are %, CR, LF and other control characters, line separators, backslashes, blanks at the end of a
    name, and bytes that are not UTF-8 (RFC 8493, 2.1.3 for the first; the others are what readers of bags
    strip or split at: common practice, no source); and what Windows cannot hold: <>:"|?*, a dot at the end,
    and the first letter of a name that is a device there.
    """
    return "/".join(_safe_part(part) for part in name.split(b"/"))


def _safe_part(part: bytes) -> str:
    text = part.decode("utf-8", "surrogateescape")
    first, kept = int(_DEVICE.match(text) is not None), len(_END.sub("", text))
    return "".join(_safe(c) if _unsafe(c) or at < first or at >= kept else c for at, c in enumerate(text))


def _unsafe(character: str) -> bool:
    category = unicodedata.category(character)
    return character in "%\\" + _NOT_EVERYWHERE + _SEPARATORS or category in ("Cc", "Cs")


def _safe(character: str) -> str:
    return "".join(f"_{byte:02x}" for byte in character.encode("utf-8", "surrogateescape"))


def safe_names(names: Iterable[bytes]) -> dict[bytes, str]:
    """Each name with the one it gets; no two get one that some system takes for the other's, by case or by
    Unicode form, and a good name gives way to another good one only."""
    plain = {name: safe_name(name) for name in sorted(names)}
    found: dict[bytes, str] = {}
    taken: set[str] = set()
    for name in sorted(plain, key=lambda name: plain[name].encode("utf-8") != name):
        new, number = plain[name], 1
        while alike(new) in taken:
            number += 1
            stem, ending = splitext(plain[name])
            new = f"{stem}-{number}{ending}"
        found[name] = new
        taken.add(alike(new))
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
