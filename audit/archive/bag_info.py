"""The two small tag files of a bag: bagit.txt and bag-info.txt (RFC 8493, 2.1.1 and 2.2.2)."""

from __future__ import annotations

import re
from collections.abc import Iterable

BAGIT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
OURS = "Cornerstop-Bag-Form"
"""Label of the bags that this program made, which keep the stricter form."""
FORM = "1"
_DECLARED = re.compile(
    r"BagIt-Version:[ \t]*(\d+)\.(\d+)[ \t]*(?:\r\n|\n|\r)Tag-File-Character-Encoding:[ \t]*(\S+)[ \t]*"
    r"(?:\r\n|\n|\r)?"
)


def bag_info_text(pairs: Iterable[tuple[str, str]]) -> bytes:
    """Labels and values, one a line; a line end in a value becomes a blank."""
    return "".join(f"{label}: {' '.join(value.split())}\n" for label, value in pairs).encode("utf-8")


def read_bag_info(data: bytes, encoding: str = "utf-8") -> dict[str, list[str]]:
    """Values by label in lower case; a line that begins with a blank goes on with the one before."""
    found: dict[str, list[str]] = {}
    label = ""
    for line in data.decode(encoding, "replace").replace("\r\n", "\n").replace("\r", "\n").split("\n"):
        if line[:1] in (" ", "\t") and label:
            found[label][-1] += " " + line.strip()
        elif ":" in line:
            label, value = (part.strip() for part in line.split(":", 1))
            label = label.lower()
            found.setdefault(label, []).append(value)
    return found


def read_bagit(data: bytes) -> tuple[tuple[int, int], str] | None:
    """Version and encoding of the tag files; None where bagit.txt is not as it must be."""
    found = _DECLARED.fullmatch(data.decode("utf-8", "replace"))
    return ((int(found[1]), int(found[2])), found[3]) if found else None


def read_oxum(value: str) -> tuple[int, int] | None:
    """Bytes and files of a Payload-Oxum."""
    found = re.fullmatch(r"(\d+)\.(\d+)", value)
    return (int(found[1]), int(found[2])) if found else None
