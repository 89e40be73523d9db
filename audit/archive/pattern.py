"""Names by a pattern of a few fixed words, on request: of pictures, and of what is called like them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import PurePosixPath

from audit.archive.names import safe_name
from audit.archive.source import SourceFile
from audit.errors import AuditError
from audit.message.shown import alike, shown_name
from audit.scan.folder import PICTURE_ENDINGS
from audit.scan.reading import rows

WORDS = ("date", "time", "camera", "counter")
_PLACE = re.compile(r"\{(.*?)\}")
_DIGITS = re.compile(r"\d+$", re.ASCII)


def check_pattern(pattern: str) -> None:
    """Raises AuditError where a pattern holds something else than names can, or no word at all."""
    words = _PLACE.findall(pattern)
    wrong = [word for word in words if word not in WORDS]
    rest = _PLACE.sub("", pattern)
    if wrong or not words or set(rest) & set("/\\{}%") or not rest.isprintable() or pattern.startswith("."):
        known = ", ".join(f"{{{word}}}" for word in WORDS)
        raise AuditError(
            f"--rename {shown_name(pattern)}: a pattern is made of {known} and plain characters, "
            "like {date}-{time}-{counter}; folders stay as they are"
        )


def renamed(files: Sequence[SourceFile], names: dict[bytes, str], pattern: str) -> dict[bytes, str]:
    """The names that files get, by those that they had: each keeps its folder and its ending.

    `names` are the names without a pattern. A picture that does not tell what the pattern asks for keeps its
    own; files beside it that are called like it go with it.
    """
    check_pattern(pattern)
    stems: dict[tuple[bytes, str], str] = {}
    taken: set[str] = {alike(name) for name in names.values()}
    for file in files:
        folder, stem, ending = _parts(file.name)
        if file.problem or ending not in PICTURE_ENDINGS or (folder, alike(stem)) in stems:
            continue
        made = _made(file, stem, pattern)
        if made:
            stems[folder, alike(stem)] = _free(safe_name(folder), made, taken)
    return {name: _with_stem(name, plain, stems) for name, plain in names.items()}


def _parts(name: bytes) -> tuple[bytes, str, str]:
    """Folder, name up to its first dot, and last ending in lower case."""
    folder, _, last = name.rpartition(b"/")
    text = last.decode("utf-8", "surrogateescape")
    return folder, text.partition(".")[0], text.rpartition(".")[2].lower()


def _made(file: SourceFile, stem: str, pattern: str) -> str:
    """The new name without its ending; nothing where the picture does not tell a word of it."""
    (row,) = rows([file.path])
    taken, digits = row.get("captured_at"), _DIGITS.search(stem)
    said = {
        "date": f"{taken:%Y-%m-%d}" if taken else "",
        "time": f"{taken:%H%M%S}" if taken else "",
        "camera": re.sub(r"[^\w-]+", "-", row.get("model") or "").strip("-"),
        "counter": digits[0] if digits else "",
    }
    if not all(said[word] for word in _PLACE.findall(pattern)):
        return ""
    return safe_name(_PLACE.sub(lambda found: said[found[1]], pattern).strip().encode("utf-8"))


def _free(folder: str, made: str, taken: set[str]) -> str:
    """The name, with a number where another picture of the folder has it."""
    number, new = 1, made
    while alike(f"{folder}/{new}") in taken:
        number += 1
        new = f"{made}-{number}"
    taken.add(alike(f"{folder}/{new}"))
    return new


def _with_stem(name: bytes, plain: str, stems: dict[tuple[bytes, str], str]) -> str:
    folder, stem, _ = _parts(name)
    new = stems.get((folder, alike(stem)))
    if new is None:
        return plain
    path = PurePosixPath(plain)
    return (path.parent / (new + path.name[path.name.index(".") :])).as_posix()
