"""What a bag of ours holds, from its own tables: the state that an update starts from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from audit.archive.bag_info import read_bag_info
from audit.archive.knowledge import Row, rows_of, stamps_of
from audit.archive.manifest_text import read_manifest_text
from audit.archive.opened import OpenedBag
from audit.archive.package import FILES, LEFT, LEFT_COLUMNS, TWINS, TWINS_COLUMNS
from audit.archive.tags import TAGS
from audit.disk.read_back import hashed
from audit.disk.workplace import Kept


@dataclass(frozen=True)
class Contents:
    """Payload by path, digests of the tag files by path, the rows of two tables, and what bag-info says."""

    payload: dict[str, Kept]
    tags: dict[str, str]
    left: list[Row]
    twins: list[Row]
    info: dict[str, list[str]]
    algorithms: tuple[str, ...]

    def said(self, label: str) -> str:
        """The first value of a label of bag-info, or nothing."""
        return (self.info.get(label.lower()) or [""])[0]


def contents_of(opened: OpenedBag) -> Contents:
    """The contents of a bag that was found to be as its manifests say. Raises OSError."""
    bag = opened.bag
    sums = {one: _manifest(bag / f"manifest-{one}.txt") for one in ("sha512", "sha256")}
    stamps = stamps_of(_read(bag / FILES))
    payload = {
        path: Kept((bag / path).lstat().st_size, digest, stamps.get(path, ""), sums["sha256"].get(path, ""))
        for path, digest in sums["sha512"].items()
    }
    tags = {**_manifest(bag / TAGS), TAGS: hashed(bag / TAGS, "sha512")[1]["sha512"]}
    return Contents(
        payload,
        tags,
        rows_of(_read(bag / LEFT), LEFT_COLUMNS),
        rows_of(_read(bag / TWINS), TWINS_COLUMNS),
        read_bag_info((bag / "bag-info.txt").read_bytes()),
        tuple(one for one in sums if sums[one]),
    )


def _manifest(path: Path) -> dict[str, str]:
    return dict(read_manifest_text(path.read_bytes(), percent=False).digests) if path.is_file() else {}


def _read(path: Path) -> bytes:
    return path.read_bytes() if path.is_file() else b""
