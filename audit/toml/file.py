"""One TOML file as data with lines, or the one mistake that stops it from being read."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from audit.disk.regular import open_regular
from audit.errors import Mistake
from audit.message.shown import brief
from audit.message.text import marked, say
from audit.toml.fault import Fault
from audit.toml.lines import Path as KeyPath
from audit.toml.lines import line_of, toml_lines
from audit.toml.text_file import LARGEST_BYTES

LONG_NUMBER = re.compile(r"\d[\d_]{4000}")
_PART = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
DEEP_KEY = re.compile(rf"(?<![\w-])(?:{_PART}[ \t]*+\.[ \t]*+){{50}}")
"""A dotted key nobody writes; tomllib takes a time for one that grows with the square of its length."""
TOO_DEEP = marked("is nested too deeply to be a kit or declaration")


@dataclass(frozen=True)
class TomlFile:
    """`shown` is the path in messages; `data` is empty where the file cannot be read."""

    shown: str
    data: dict[str, Any]
    lines: dict[KeyPath, int]
    text: str = ""

    def remark(self, table: str, index: int, key: str) -> str:
        """The comment behind a number, or an empty text."""
        line = self.lines.get((table, index, key))
        if line is None:
            return ""
        return self._text_lines[line - 1].partition("#")[2].strip()

    @cached_property
    def _text_lines(self) -> list[str]:
        return self.text.split("\n")

    @cached_property
    def _lines_of_tables(self) -> dict[KeyPath, dict[str, int]]:
        """The lines of each [[table]] by its name and place: a file of thousands is gone through once."""
        found: dict[KeyPath, dict[str, int]] = {}
        for path, line in self.lines.items():
            if 2 <= len(path) <= 4:
                found.setdefault(path[:2], {})[".".join(str(part) for part in path[2:])] = line
        return found

    def mistake(self, path: KeyPath, key: str, text: str, level: str = "error") -> Mistake:
        """A mistake at the line of a key path; characters that act on a terminal are shown as escapes."""
        return Mistake(self.shown, line_of(self.lines, path), brief(key), brief(text), level)

    def at(self, table: str, index: int, fault: Fault) -> Mistake:
        """A table's fault with its file and line."""
        path: KeyPath = (table, index, fault.key) if fault.key else (table, index)
        if fault.item is not None:
            path = (*path, fault.item)
        key = f"{table}.{fault.key}" if fault.key else table
        return self.mistake(path, key, fault.text, fault.level)

    def table_lines(self, table: str, index: int) -> dict[str, int]:
        """Lines of the keys of one table: "" its header, "slots" a key, "slots.1" an item."""
        return self._lines_of_tables.get((table, index), {})


def read_toml(
    path: Path, shown: str, change: Callable[[str], str] | None = None
) -> tuple[TomlFile, list[Mistake]]:
    """Read a TOML file; at most one mistake, and then no data. `change` is done to a sound text first."""
    text, mistake = _text(path, shown)
    if mistake is not None:
        return TomlFile(shown, {}, {}), [mistake]
    file, mistakes = parse_toml(text, shown)
    return (file, mistakes) if change is None or mistakes else parse_toml(change(text), shown)


def parse_toml(text: str, shown: str) -> tuple[TomlFile, list[Mistake]]:
    """The same for a text that is not in a file yet."""
    deep = DEEP_KEY.search(text)
    if deep is not None:
        return TomlFile(shown, {}, {}), [Mistake(shown, text.count("\n", 0, deep.start()) + 1, "", TOO_DEEP)]
    try:
        data = tomllib.loads(text.removeprefix("\ufeff"))
        return TomlFile(shown, data, toml_lines(text), text), []
    except tomllib.TOMLDecodeError as error:
        mistake = _syntax(error, text, shown)
    except ValueError:  # Python converts no text of more digits to a number
        long = LONG_NUMBER.search(text)
        line = text.count("\n", 0, long.start()) + 1 if long else 1
        mistake = Mistake(shown, line, "", marked("holds a number of thousands of digits"))
    except RecursionError:
        mistake = Mistake(shown, 1, "", TOO_DEEP)
    return TomlFile(shown, {}, {}), [mistake]


def _text(path: Path, shown: str) -> tuple[str, Mistake | None]:
    try:
        with open_regular(path) as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        words = marked("cannot be read ({reason_written}); check the name and the rights")
        return "", Mistake(shown, 0, "", say(words, reason_written=reason))
    if len(raw) > LARGEST_BYTES:
        return "", Mistake(shown, 1, "", marked("is larger than 5 MB; is it the right file?"))
    try:
        return raw.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        return "", Mistake(shown, line, "", marked("is not UTF-8 text; save the file as UTF-8"))


def _syntax(error: tomllib.TOMLDecodeError, text: str, shown: str) -> Mistake:
    """tomllib's message carries the line in its text."""
    message = str(error)
    where = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    line, words = text.count("\n") + 1, marked("is not valid TOML: {reason_written}")
    column = 0
    if where:
        message = message[: where.start()]
        if where.group(1):
            line, column = int(where.group(1)), int(where.group(2))
            words = marked("is not valid TOML at column {column}: {reason_written}")
    reason = message[:1].lower() + message[1:]
    return Mistake(shown, line, "", say(words, column=column, reason_written=reason))
