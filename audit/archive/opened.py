"""A bag of ours as the dump that it was: its pictures, its kit and its declarations."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from audit.archive.bag_info import OURS, read_bag_info
from audit.archive.knowledge import DECLARATIONS, KIT
from audit.archive.package import DUMPS, PICTURES
from audit.disk.dumps import Dump, Dumps
from audit.disk.regular import open_regular


@dataclass(frozen=True)
class OpenedBag:
    """What an audit of a bag reads; nothing is ever written there."""

    bag: Path
    dump: Dump
    kit: Path | None
    declarations: Path | None
    dumps: tuple[str, ...]

    @property
    def title(self) -> str:
        """What a report of it is called."""
        return self.bag.resolve().name


def open_bag(folder: Path) -> OpenedBag | None:
    """The bag at a folder; None where there is none of ours."""
    info = read_bag_info(_content(folder / "bag-info.txt"))
    if OURS.lower() not in info or not (folder / PICTURES).is_dir() or not (folder / "bagit.txt").is_file():
        return None
    kit, declarations = folder / KIT, folder / DECLARATIONS
    dumps = _dumps(_content(folder / "datapackage.json"))
    return OpenedBag(
        folder,
        pictures_in(folder, dumps),
        kit if kit.is_file() else None,
        declarations if declarations.is_dir() else None,
        dumps,
    )


def pictures_in(bag: Path, dumps: Sequence[str]) -> Dump:
    """The pictures of a bag as the dump they were, or as the several."""
    pictures = bag / PICTURES
    there = {name: pictures / name for name in dumps if (pictures / name).is_dir()}
    return Dumps(there) if there else pictures


def _dumps(package: bytes) -> tuple[str, ...]:
    try:
        said = json.loads(package).get(DUMPS, [])
        return tuple(str(name) for name in said if "/" not in str(name) and str(name) not in ("", ".", ".."))
    except (ValueError, AttributeError, TypeError):
        return ()


def _content(path: Path) -> bytes:
    try:
        with open_regular(path) as file:
            return file.read()
    except OSError:
        return b""
