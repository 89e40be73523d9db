"""All that can be said of a kit: its mistakes, what is worth knowing, and what the dump says against it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from audit.declare import add_gear, load
from audit.declare.read import kit_shown
from audit.errors import DeclarationError, Mistake
from audit.kit.kit import Kit
from audit.kit.strangers import Stranger, strangers
from audit.message.shown import brief
from audit.scan import scan
from audit.toml.file import TomlFile, read_toml

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class KitChecked:
    """Mistakes, notes, and the kit where it is sound; `spans` is the number of files of declarations."""

    mistakes: tuple[Mistake, ...]
    notes: tuple[Mistake, ...]
    kit: Kit | None
    spans: int


def check_kit(kit_path: Path, dump: Path | None, progress: Progress | None = None) -> KitChecked:
    """Checks a kit file alone, or with the declarations and the EXIF of a dump."""
    try:
        loaded = load(dump, kit_path)
    except DeclarationError as error:
        return KitChecked(error.mistakes, (), None, 0)
    mistakes, notes = list(loaded.warnings), list(loaded.notes)
    if dump is not None and (loaded.kit.bodies or loaded.kit.lenses):
        frames = add_gear(scan(dump, progress=progress).frames, loaded.kit)
        file, _ = read_toml(kit_path, kit_shown(kit_path, dump) or str(kit_path))
        for one in strangers(frames):
            told = _told(one, file)
            (notes if told.level == "note" else mistakes).append(told)
    return KitChecked(tuple(sorted(mistakes)), tuple(sorted(notes)), loaded.kit, len(loaded.declarations))


def _told(one: Stranger, file: TomlFile) -> Mistake:
    """At the line of what was likely meant, else at the top of the file."""
    table = "body" if one.key == "model" else "lens"
    level = "note" if one.nearest is None else "warning"
    for index, raw in enumerate(file.data.get(table, [])):
        said = raw.get(one.key)
        if one.nearest is not None and (
            said == one.nearest or (isinstance(said, list) and one.nearest in said)
        ):
            return file.mistake((table, index, one.key), f"{table}.{one.key}", one.words, level)
    return Mistake(file.shown, 1, "", brief(one.words), level)
