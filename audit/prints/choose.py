"""Which frames were chosen: `keep.txt` files of the dump, else the ratings of XMP sidecars. Only read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from audit.disk.card import read_part
from audit.errors import Mistake
from audit.message.shown import alike, brief
from audit.message.text import joined, marked, say
from audit.prints.rating import MOST_BYTES, REJECTED, NoXmpError, rating
from audit.scan.folder import KEEP_FILE, Entry, split_ending

PROPOSED = marked("proposed")
_RATED = "rating "


def rated(stars: float) -> str:
    """How a frame was chosen by its rating, as the table says it."""
    return f"{_RATED}{stars:g}"


def stars_of(kept: str) -> str:
    """The rating in what `rated` made, "" for a frame that was chosen otherwise."""
    return kept.removeprefix(_RATED) if kept.startswith(_RATED) else ""


@dataclass(frozen=True)
class Chosen:
    """`kept` maps a frame to how ("keep.txt", "rating 4") and where it was chosen; `rejected` frames never
    are proposed. Empty where nobody chose.
    """

    kept: dict[str, tuple[str, str]] = field(default_factory=dict)
    rejected: frozenset[str] = frozenset()
    mistakes: tuple[Mistake, ...] = ()


MOST_KEEP_BYTES = 1_000_000
_COMMENT = re.compile(r"(?:^|\s)#")


def choose(frames: pd.DataFrame, beside: Iterable[Entry]) -> Chosen:
    """The frames that keep.txt names; where none does, those with a rating of 1 to 5.

    A line of keep.txt is a file with or without its ending, below keep.txt's folder; ` #` begins a comment
    where it is no part of a name.
    What cannot be read, and lines that name nothing or two frames, are mistakes.
    """
    entries = list(beside)
    keeps = [e for e in entries if e.shown.rpartition("/")[2].lower() == KEEP_FILE]
    places = _Places(frames)
    kept: dict[str, tuple[str, str]] = {}
    mistakes: list[Mistake] = []
    for entry in keeps:
        found, wrong = _named(entry, places)
        kept |= found
        mistakes += wrong
    if kept:
        return Chosen(kept, mistakes=tuple(mistakes))
    stars, wrong = _stars([e for e in entries if e.ending == "xmp"], places)
    good = sorted((n for n, (value, _) in stars.items() if value > 0), key=lambda n: -stars[n][0])
    return Chosen(
        {name: (rated(stars[name][0]), stars[name][1]) for name in good},
        frozenset(name for name, (value, _) in stars.items() if value == REJECTED),
        (*mistakes, *wrong),
    )


class _Places:
    """Frames by the paths of their files in lower case and one Unicode form, with and without ending."""

    def __init__(self, frames: pd.DataFrame) -> None:
        self.by_path: dict[str, list[str]] = {}
        self.by_name: dict[str, list[str]] = {}
        for name, files in zip(frames["frame"], frames["files"], strict=True):
            for path in files:
                for key in {alike(path), alike(split_ending(path)[0])}:
                    for index, one in ((self.by_path, key), (self.by_name, key.rpartition("/")[2])):
                        names = index.setdefault(one, [])
                        if name not in names:
                            names.append(name)

    def of_line(self, folder: str, line: str) -> list[str]:
        """Frames that a line may mean: by its path below the folder, its bare name below there, or its
        path as the report has it (of several dumps with the dump's name)."""
        inside = "" if folder == "." else f"{alike(folder)}/"
        for words in (alike(line), alike(line).replace("\\", "/").removeprefix("./")):
            if exact := self.by_path.get(inside + words):
                return exact
        named = [n for n in self.by_name.get(alike(line), []) if alike(n).startswith(inside)]
        return named or self.by_path.get(alike(line), [])

    def of_sidecar(self, entry: Entry) -> list[str]:
        """Frames beside a sidecar: `a.xmp` and `a.jpg.xmp` belong to `a.jpg`."""
        return self.by_path.get(alike(split_ending(entry.shown)[0]), [])


def _named(entry: Entry, places: _Places) -> tuple[dict[str, tuple[str, str]], list[Mistake]]:
    try:
        words = _bytes(entry.path, MOST_KEEP_BYTES).decode("utf-8-sig")
    except OSError as error:
        text = say("cannot be read ({reason})", reason=str(error.strerror or error))
        return {}, [Mistake(entry.shown, 1, "", text)]
    except UnicodeDecodeError:
        return {}, [Mistake(entry.shown, 1, "", marked("is not UTF-8 text; save the file as UTF-8"))]
    kept: dict[str, tuple[str, str]] = {}
    mistakes = []
    for number, raw in enumerate(words.splitlines(), start=1):
        line = raw.strip()
        found = places.of_line(entry.folder, line) if line else []
        if not found:  # a name may hold what begins a comment elsewhere
            line = _COMMENT.split(raw, maxsplit=1)[0].strip()
            found = places.of_line(entry.folder, line) if line else []
        if len(found) == 1:
            where = say("{file}, line {line}", file=entry.shown, line=number)
            kept.setdefault(found[0], (KEEP_FILE, where))
        elif line:
            mistakes.append(Mistake(entry.shown, number, brief(line), _wrong(found)))
    return kept, mistakes


def keep_lines(frames: pd.DataFrame) -> list[str]:
    """For each frame the line of a keep.txt that names it and no other; "" where no line does.

    The line is for a keep.txt at the top of the dump. None can be written for a name that holds a line
    break or begins or ends with a space, that is no text, or that two frames have but for the case.
    """
    places = _Places(frames)
    return [
        next((line for line in (name, *files) if plain_text(line) and _names(line, name, places)), "")
        for name, files in zip(frames["frame"], frames["files"], strict=True)
    ]


def _names(line: str, frame: str, places: _Places) -> bool:
    return line.strip() == line and places.of_line(".", line) == [frame]


def plain_text(name: str) -> bool:
    """Whether a name can stand on a line of a text file as it is: one line, and no bytes that are no text."""
    return name.splitlines() == [name] and not any("\ud800" <= c <= "\udfff" for c in name)


def _wrong(found: list[str]) -> str:
    if not found:
        return marked("no such frame; write the file's name, or its path below this folder")
    return say(
        "may be {one_frame} or {other_frame}; write the path below this folder",
        one_frame=found[0],
        other_frame=found[1],
    )


def _stars(sidecars: list[Entry], places: _Places) -> tuple[dict[str, tuple[float, str]], list[Mistake]]:
    """Frame to its highest rating and where that stands, and one mistake for all that could not be read."""
    stars: dict[str, tuple[float, str]] = {}
    broken: list[tuple[str, str]] = []
    for entry in sidecars:
        names = places.of_sidecar(entry)
        try:
            value = rating(_bytes(entry.path, MOST_BYTES)) if names else None
        except (OSError, NoXmpError) as error:
            broken.append((entry.shown, str(getattr(error, "strerror", None) or error)))
            continue
        for name in names if value else ():
            if value is not None and (name not in stars or value > stars[name][0]):
                stars[name] = value, entry.shown
    return stars, list(_broken(broken))


def _broken(broken: list[tuple[str, str]]) -> Iterator[Mistake]:
    if broken:
        first, reason = broken[0]
        text = say("is no XMP that can be read: {reason}; its rating is not used", reason=reason)
        more = say("{count} more like it", count=len(broken) - 1) if len(broken) > 1 else ""
        yield Mistake(first, 1, "", joined([text, more]), "warning")


def _bytes(path: Path, most: int) -> bytes:
    """The file's bytes, one more than `most` at most; a file that is too large is an OSError for a text."""
    data = read_part(path, 0, most + 1)
    if len(data) > most:
        raise OSError(0, say("larger than {megabytes} MB", megabytes=most // 1_000_000))
    return data
