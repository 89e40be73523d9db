"""A kit.toml from what the pictures of a dump say of themselves, and an existing one completed with them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from audit.declare.kit_text import bodies_text, is_noted, kit_text, lenses_text
from audit.errors import AuditError
from audit.kit.blanks import blanks
from audit.kit.found import FoundGear, found_gear
from audit.kit.kit import Kit
from audit.kit.read import KitRead, kit_from, kit_places
from audit.kit.write import KitChange
from audit.message.shown import shown_name
from audit.scan import scan
from audit.toml.file import parse_toml
from audit.toml.insert import with_tables
from audit.toml.text_file import read_text

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class NewKit:
    """What was found in so many `pictures`, the text of the kit, and what of it is still to fill in."""

    gear: FoundGear
    pictures: int
    text: str
    blanks: tuple[str, ...]


def kit_beside(dump: Path) -> Path:
    """Where a new kit is put: beside the dump, so that the next trip finds it and no card is changed."""
    return kit_places(dump)[1]


def new_kit(dump: Path, progress: Progress | None = None) -> NewKit:
    """The kit of a dump. Nothing is written. Raises AuditError where there is no picture."""
    frames = _frames_of(dump, progress)
    gear = found_gear(frames, Kit())
    text = kit_text(gear, dump.resolve().name, len(frames))
    read = _sound(text, dump)
    return NewKit(gear, len(frames), text, tuple(blanks(read.kit)))


def added_kit(dump: Path, path: Path, progress: Progress | None = None) -> tuple[KitChange, FoundGear]:
    """What an existing kit would be with the bodies and lenses of one more dump. Nothing is written.

    Raises AuditError where the kit cannot be read or holds mistakes.
    """
    before = read_text(path)
    read = kit_from(*parse_toml(before, str(path)))
    wrong = [mistake for mistake in read.mistakes if mistake.level == "error"]
    if wrong:
        raise AuditError(f"{wrong[0]} (nothing was added: mend it, then run the command again)")
    gear = found_gear(_frames_of(dump, progress), read.kit)
    after = before
    lenses = [lens for lens in gear.lenses if not is_noted(lens, before)]
    for table, parts in (("body", bodies_text(gear.bodies)), ("lens", lenses_text(lenses))):
        if parts:
            after = _with(after, table, "\n\n".join(parts), path)
    return KitChange(path, before, after), gear


def _with(text: str, table: str, block: str, path: Path) -> str:
    try:
        return with_tables(text, table, block)
    except ValueError:
        raise AuditError(
            f"{path}: its list {table} stands in brackets, where nothing can be added; "
            f"write each as a table of its own under [[{table}]], then run the command again"
        ) from None


def _frames_of(dump: Path, progress: Progress | None) -> pd.DataFrame:
    """The scanned frames of a folder of pictures."""
    frames = scan(dump, progress=progress).frames
    if frames.empty:
        raise AuditError(
            f"{dump}: no picture was found in it; name the folder of the pictures: cornerstop kit new FOLDER"
        )
    return frames


def _sound(text: str, dump: Path) -> KitRead:
    """The kit that the text is; whatever strange words the pictures hold, it must be one."""
    read = kit_from(*parse_toml(text, "kit.toml"))
    if any(mistake.level == "error" for mistake in read.mistakes):
        raise AuditError(
            f"{shown_name(str(dump))}: what its pictures say of camera and lens makes no kit "
            f"({read.mistakes[0]}); write kit.toml by hand, as docs/kit.md shows"
        )
    return read
