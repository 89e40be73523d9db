"""Kit and declarations of a dump, read together so that every mistake is told at once."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from itertools import chain, takewhile
from pathlib import Path

from pydantic import ValidationError

from audit.declare.carried import is_short, on_no_lens
from audit.declare.frame_lines import TABLE, span_of
from audit.declare.marks import blanked
from audit.declare.rig_rules import rig_faults
from audit.declare.span_rules import span_faults
from audit.declare.worn import Declaration, Worn
from audit.disk.apart import report_around
from audit.disk.dumps import Dump, has_folder, parts
from audit.disk.marker import OUTPUT_MARKER
from audit.disk.regular import PASSED_OVER, is_something_else
from audit.errors import DeclarationError, Mistake
from audit.kit.kit import Kit
from audit.kit.read import KitRead, find_kit, kit_places, read_kit
from audit.message.shown import brief, shown_name
from audit.message.text import marked, say
from audit.toml.fault import Fault, suggestion
from audit.toml.file import TomlFile, read_toml
from audit.toml.lines import line_of
from audit.toml.wording import BRACKETS, UNKNOWN_KEY, YES_NO, faults, unlike

FILE_NAME = "filters.toml"


@dataclass(frozen=True)
class Loaded:
    """Kit and declarations without errors, the warnings of the files alone, and notes on the kit."""

    kit: Kit
    declarations: list[Declaration]
    warnings: tuple[Mistake, ...]
    notes: tuple[Mistake, ...] = ()


def load(
    dump: Dump | None,
    kit_path: Path | None = None,
    mirror: Path | None = None,
    skip: Collection[Path] = (),
    *,
    drafts: bool = True,
    strict: bool = True,
) -> Loaded:
    """Kit and all declarations of a dump; raises DeclarationError with every mistake of every file.

    Not `strict`: only mistakes in the kit stop it. A span with a mistake covers nothing, and is told.

    `kit_path` None looks for the kit in the usual places; `dump` None reads the kit alone. `skip`: folders
    below the dump whose declarations are not ours. Without `drafts`, spans as they were drafted do not count.
    """
    path = kit_path or (find_kit(dump) if dump is not None else None)
    read = read_kit(path, kit_shown(path, dump))
    declarations, mistakes = (
        read_declarations(dump, mirror, read, skip, drafts=drafts) if dump is not None else ([], [])
    )
    kits = _kits_passed_over(path, dump) if dump is not None else []
    everything = (*kits, *read.mistakes, *mistakes)
    fatal = everything if strict else (*kits, *read.mistakes)
    if any(m.level == "error" for m in fatal):
        raise DeclarationError(everything)
    return Loaded(read.kit, declarations, everything, read.notes)


def read_declarations(
    dump: Dump,
    mirror: Path | None,
    kit: KitRead | None,
    skip: Collection[Path] = (),
    *,
    drafts: bool = True,
) -> tuple[list[Declaration], list[Mistake]]:
    """Declarations with their sound spans, and the mistakes of all files."""
    found: dict[str, Path] = {}
    declarations, mistakes = [], []
    for folder, path in chain(_in_dump(dump, skip), _find(mirror, ()) if mirror is not None else ()):
        if is_something_else(path):
            mistakes.append(Mistake(_shown(folder), 1, "", PASSED_OVER, "warning"))
        elif path.is_symlink() and report_around(path) is not None:
            text = marked("leads into a folder of reports; move the file out of it")
            mistakes.append(Mistake(_shown(folder), 1, "", text))
        else:
            found[folder] = path
    for folder in sorted(found):
        declaration, wrong = _read_one(found[folder], folder, kit, drafts)
        declarations.append(declaration)
        mistakes += wrong
        if mirror is not None and not _mirrors(found[folder], dump, mirror):
            text = marked(
                "the dump has no such folder, so it covers nothing; is the mirror tree named alike?"
            )
            mistakes.append(Mistake(declaration.path, 1, "", text, "warning"))
    return declarations, mistakes


def _mirrors(path: Path, dump: Dump, mirror: Path) -> bool:
    """Whether a declaration stands for a folder that the dump has."""
    return not path.is_relative_to(mirror) or has_folder(dump, path.parent.relative_to(mirror))


def _in_dump(dump: Dump, skip: Collection[Path]) -> Iterator[tuple[str, Path]]:
    """The declarations of each dump, by their folders in the frame table."""
    for start, top in parts(dump):
        for folder, path in _find(top, skip):
            yield start + folder if not start or folder != "." else start.removesuffix("/"), path


def _find(root: Path, skip: Collection[Path]) -> Iterator[tuple[str, Path]]:
    """Folder, as the frame table writes it, and path of each declaration; links are not followed.

    Folders of our own output, which hold `OUTPUT_MARKER`, are not looked into.
    """
    skipped = {path.absolute() for path in skip}
    for here, folders, files in os.walk(root):
        place = Path(here)
        if place != root and OUTPUT_MARKER in (*files, *folders):
            folders.clear()
            continue
        if FILE_NAME in (*files, *folders):
            yield shown_name(place.relative_to(root).as_posix()), place / FILE_NAME
        folders[:] = sorted(name for name in folders if (place / name).absolute() not in skipped)


def _shown(folder: str) -> str:
    return FILE_NAME if folder == "." else f"{folder}/{FILE_NAME}"


def _read_one(
    path: Path, folder: str, kit: KitRead | None, drafts: bool
) -> tuple[Declaration, list[Mistake]]:
    name = _shown(folder)
    file, mistakes = read_toml(path, name, None if drafts else blanked)
    unreadable = mistakes[0].text if mistakes else ""
    mistakes += _top_level(file)
    said = [*_tables(file), *_lines(file, kit.kit if kit is not None else Kit())]
    spans: list[Worn] = []
    unread: dict[int, Fault] = {}
    for number, one in enumerate(said):
        worn, wrong = _span(one.raw, kit, sole=len(said) == 1) if one.fault is None else (None, [one.fault])
        mistakes += [one.mistake(file, fault) for fault in wrong]
        if worn is None:
            unread[number] = wrong[0]
        spans.append(_place_of(one.raw) if worn is None else worn)
    inherit = file.data.get("inherit", True) is not False
    lines = tuple(one.lines for one in said)
    short = frozenset(number for number, one in enumerate(said) if one.index is None)
    made = Declaration(tuple(spans), name, folder, inherit, lines, unread, short, unreadable)
    return made, sorted(mistakes)


@dataclass(frozen=True)
class _Said:
    """A span before it is understood: its keys, where they stand, and what is wrong with its line."""

    raw: dict[str, object]
    lines: dict[str, int]
    fault: Fault | None = None
    index: int | None = None

    def mistake(self, file: TomlFile, fault: Fault) -> Mistake:
        """A fault of it with file and line; a line of [frames] has but one."""
        if self.index is not None:
            return file.at("worn", self.index, fault)
        return Mistake(file.shown, self.lines[""], TABLE, brief(fault.text), fault.level)


def _tables(file: TomlFile) -> Iterator[_Said]:
    raw_spans = file.data.get("worn", [])
    for index, raw in enumerate(raw_spans if isinstance(raw_spans, list) else []):
        if isinstance(raw, dict):
            yield _Said(raw, file.table_lines("worn", index), index=index)


def _lines(file: TomlFile, kit: Kit) -> Iterator[_Said]:
    table = file.data.get(TABLE)
    for frames, what in table.items() if isinstance(table, dict) else ():
        raw, fault = span_of(frames, what, kit)
        yield _Said(raw, {"": line_of(file.lines, (TABLE, frames))}, fault)


def _place_of(raw: dict[str, object]) -> Worn:
    """What can be understood of the frames that a faulty span means."""
    for keys in (("files", "times", "body"), ("files", "times"), ("files",), ("times",)):
        try:
            return Worn.model_validate({key: raw[key] for key in keys if key in raw})
        except ValidationError:
            continue
    return Worn()


def _top_level(file: TomlFile) -> Iterator[Mistake]:
    known = ["inherit", "worn", TABLE]
    for key, value in file.data.items():
        if key not in known:
            hint = suggestion(key, known, marked("here stand {known_key}"))
            yield file.mistake((key,), key, say(UNKNOWN_KEY, hint=hint))
        elif key == "inherit" and not isinstance(value, bool):
            yield file.mistake((key,), key, unlike(YES_NO, value))
        elif key == "worn" and not (isinstance(value, list) and all(isinstance(x, dict) for x in value)):
            yield file.mistake((key,), key, say(BRACKETS, table_key=key))
        elif key == TABLE and not isinstance(value, dict):
            yield file.mistake(
                (key,), key, marked('is a table; write [frames], and lines like "X..Y" = "n6"')
            )


def _span(raw: dict[str, object], kit: KitRead | None, *, sole: bool) -> tuple[Worn | None, list[Fault]]:
    try:
        worn = Worn.model_validate(raw)
    except ValidationError as error:
        return None, faults(error, "worn", Worn)
    found = span_faults(worn, sole=sole)
    if kit is not None and kit.whole and is_short(worn):
        found += [fault] if (fault := on_no_lens(worn, kit.kit)) is not None else []
    if kit is not None and kit.whole:
        found += rig_faults(worn, kit.kit, kit.broken)
    return worn, found


def kit_shown(path: Path | None, dump: Dump | None) -> str | None:
    """The kit's path in messages: from the dump where it lies inside, else as given."""
    if path is None:
        return None
    for start, top in parts(dump) if dump is not None else ():
        if path.is_relative_to(top):
            return start + path.relative_to(top).as_posix()
    return str(path)


def _kits_passed_over(path: Path | None, dump: Dump) -> list[Mistake]:
    """What stands in the place of a kit where one was looked for, before the one that was found."""
    places = kit_places(dump)
    before = takewhile(lambda place: place != path, places) if path is None or path in places else ()
    wrong = [place for place in before if is_something_else(place)]
    return [Mistake(kit_shown(place, dump) or "", 1, "", PASSED_OVER, "warning") for place in wrong]
