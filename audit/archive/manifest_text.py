"""Manifests as text: written in one form only, read as RFC 8493, 2.1.3 lets others write them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from audit.archive.names import decoded, leads_out

_LINE = re.compile(r"([0-9A-Fa-f]+)[ \t]+\*?(.+)")


@dataclass(frozen=True)
class ManifestRead:
    """Digests in lower case by path, and numbers of the lines that are none or break a rule."""

    digests: dict[str, str]
    bad_lines: tuple[int, ...]


def manifest_text(digests: Mapping[str, str]) -> bytes:
    """UTF-8, digest in lower case, two spaces, path, LF; in the order of the paths' bytes."""
    lines = sorted((path.encode("utf-8"), digest) for path, digest in digests.items())
    return b"".join(digest.lower().encode("ascii") + b"  " + path + b"\n" for path, digest in lines)


def read_manifest_text(data: bytes, *, percent: bool = True, encoding: str = "utf-8") -> ManifestRead:
    """What a manifest says; a path that is named twice or leads out of the bag makes its line a bad one."""
    digests: dict[str, str] = {}
    bad = []
    lines = data.decode(encoding, "surrogateescape").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        found = _LINE.fullmatch(line)
        path = decoded(found[2], percent=percent).removeprefix("./") if found else ""
        if found is None or leads_out(path) or path in digests:
            bad.append(number)
        else:
            digests[path] = found[1].lower()
    return ManifestRead(digests, tuple(bad))


def is_canonical(data: bytes) -> bool:
    """Whether a manifest is to the byte as `manifest_text` writes it."""
    try:
        read = read_manifest_text(data, percent=False)
        return not read.bad_lines and manifest_text(read.digests) == data
    except UnicodeError:
        return False
