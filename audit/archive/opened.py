"""A bag of ours as the dump that it was: its pictures, its kit and its declarations."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from audit.archive.bag_info import OURS, read_bag_info
from audit.archive.knowledge import DECLARATIONS, KIT, stamps_of
from audit.archive.names import safe_name
from audit.archive.package import DUMPS, FILES, PICTURES
from audit.disk.dumps import Dump, Dumps
from audit.disk.regular import open_regular
from audit.message.shown import shown_name


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
    stamps = stamps_of(_content(folder / FILES)) if dumps else {}
    return OpenedBag(
        folder,
        pictures_in(folder, dumps, stamps),
        kit if kit.is_file() else None,
        declarations if declarations.is_dir() else None,
        dumps,
    )


def pictures_in(bag: Path, dumps: Sequence[str], stamps: Mapping[str, str]) -> Dump:
    """The pictures of a bag as the dump they were, or as the several; by their old names, from the stamps."""
    pictures = bag / PICTURES
    there = {name: pictures / name for name in dumps if (pictures / name).is_dir()}
    return Dumps(there, _old_names(stamps)) if there else pictures


def _old_names(stamps: Mapping[str, str]) -> dict[str, str]:
    """What was renamed by a pattern, with its old name: declarations speak of that one."""
    found = {}
    for path, stamp in stamps.items():
        old = safe_name(bytes.fromhex(stamp.rpartition(" ")[2]))
        if path != f"{PICTURES}/{old}" and f"{PICTURES}/{old}" not in stamps:
            found[shown_name(path.removeprefix(f"{PICTURES}/"))] = shown_name(old)
    return found


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
