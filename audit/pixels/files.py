"""One file of a frame, looked at before its pixels are: what it is, and what tells it from a changed one."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from audit.disk.card import CardFile
from audit.disk.dumps import Dump
from audit.disk.regular import NotRegularError
from audit.message.text import marked, say
from audit.pixels.decode import FORMATS, PixelsUnreadable
from audit.scan.formats import EXPORT_ENDINGS

HEAD_BYTES = 1 << 16
"""As many as the scan's own check sum counts."""
_HEIF_ENDINGS = (".heic", ".heif", ".hif")

UNDECODED = marked("WebP, AVIF, JPEG 2000 and JPEG XL are not decoded here; save a JPEG beside it")

Kind = Literal["picture", "heif", "raw"]


@dataclass(frozen=True)
class PictureFile:
    """A file as it lies on the disk now. `shown` is its path below the dump; `form` what Pillow calls it."""

    path: Path
    shown: str
    kind: Kind
    form: str
    size: int
    mtime_ns: int
    head_sum: int

    @property
    def identity(self) -> str:
        """What changes with the file."""
        return f"{self.shown}|{self.size}|{self.mtime_ns}|{self.head_sum}"


def look_at(dump: Dump, shown: str) -> PictureFile:
    """The file of this name below the dump. Raises PixelsUnreadable where it cannot be opened."""
    path = dump / shown
    try:
        with CardFile(path, ahead=HEAD_BYTES) as file:
            status, head = file.status, file.read(HEAD_BYTES) or b""
    except NotRegularError:
        raise PixelsUnreadable(say("{file}: is no file", file=path.name)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or marked("input/output error")
        why = say("{file}: cannot be opened: {reason}", file=path.name, reason=reason)
        raise PixelsUnreadable(why) from None
    kind, form = _kind(path.suffix.lower(), head)
    return PictureFile(path, shown, kind, form, status.st_size, status.st_mtime_ns, zlib.crc32(head))


def _kind(ending: str, head: bytes) -> tuple[Kind, str]:
    """How the file's pixels are read, by its first bytes before its ending."""
    if head[:2] == b"\xff\xd8":
        return "picture", "JPEG"
    if head[4:8] == b"ftyp" and ending in _HEIF_ENDINGS:
        return "heif", "HEIF"
    if ending in FORMATS:
        return "picture", FORMATS[ending]
    if ending.removeprefix(".") in EXPORT_ENDINGS:
        raise PixelsUnreadable(UNDECODED)
    return "raw", ""
