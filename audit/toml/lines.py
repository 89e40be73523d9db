"""Lines of the keys of a TOML text, which tomllib does not keep.

A small scan of a text that tomllib has already accepted, so it may trust the syntax: it only has to know
where keys, headers and values begin and end.
"""

from __future__ import annotations

import re
from typing import Any

Path = tuple[str | int, ...]

_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRINGS = {
    '"""': re.compile(r'"""(?:[^"\\]|\\[\s\S]|"(?!""))*"{3,5}'),
    "'''": re.compile(r"'''(?:[^']|'(?!''))*'{3,5}"),
    '"': re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    "'": re.compile(r"'[^'\n]*'"),
}
_SCALAR = re.compile(r"[^,\]}#\n]+")
_ESCAPE = re.compile(r"\\(u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8}|.)")
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}


def toml_lines(text: str) -> dict[Path, int]:
    """Line (from 1) of every table, key and array item, by its path: ("filter", 2, "stops").

    An array of tables counts its tables from 0, as tomllib's lists do.
    """
    scan = _Scan(text)
    scan.document()
    return scan.lines


def value_lines(text: str) -> list[tuple[int, int]]:
    """First and last line (from 1) of every value that stands on more than one."""
    scan = _Scan(text)
    scan.document()
    return scan.long_values


def line_of(lines: dict[Path, int], path: Path) -> int:
    """Line of a path, or of the nearest thing around it; 1 where nothing is known."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return 1


class _Scan:
    def __init__(self, text: str) -> None:
        self.text, self.at = text.replace("\r\n", "\n"), 0
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}
        self.long_values: list[tuple[int, int]] = []
        self._last, self._line = 0, 1

    def here(self) -> int:
        """Line of the current place; places only ever move on."""
        self._line += self.text.count("\n", self._last, self.at)
        self._last = self.at
        return self._line

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def note(self, path: Path) -> None:
        self.lines.setdefault(path, self.here())

    def document(self) -> None:
        table: Path = ()
        self.skip(_SPACE)
        while self.at < len(self.text):
            before = self.at
            if self.text.startswith("[", self.at):
                table = self.header()
            else:
                self.pair(table)
            self.skip(_SPACE)
            if self.at == before:
                return

    def header(self) -> Path:
        many = self.text.startswith("[[", self.at)
        line = self.here()
        self.at += 2 if many else 1
        path = self.resolved(self.keys(), last_counts=many)
        self.at += 2 if many else 1
        self.lines.setdefault(path, line)
        if many:
            self.lines.setdefault(path[:-1], line)
        return path

    def resolved(self, keys: list[str], last_counts: bool) -> Path:
        """Path of a header: parts that are arrays of tables mean their last table."""
        path: Path = ()
        for number, key in enumerate(keys):
            path = (*path, key)
            if last_counts and number == len(keys) - 1:
                self.counts[path] = self.counts.get(path, -1) + 1
            if path in self.counts:
                path = (*path, self.counts[path])
        return path

    def keys(self) -> list[str]:
        """A dotted key; the place moves past it and the blanks around it."""
        found = []
        while True:
            self.skip(_BLANK)
            found.append(self.key())
            self.skip(_BLANK)
            if not self.text.startswith(".", self.at):
                return found
            self.at += 1

    def key(self) -> str:
        quote = self.text[self.at : self.at + 1]
        if quote == "'":
            return self.skip(_STRINGS["'"])[1:-1]
        if quote == '"':
            return _ESCAPE.sub(_unescaped, self.skip(_STRINGS['"'])[1:-1])
        return self.skip(_BARE)

    def pair(self, table: Path) -> None:
        path, line = table, self.here()
        for key in self.keys():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self.at += 1
        self.skip(_BLANK)
        self.value(path)
        if (last := self.here()) > line:
            self.long_values.append((line, last))

    def value(self, path: Path) -> None:
        for quote, pattern in _STRINGS.items():
            if self.text.startswith(quote, self.at):
                self.skip(pattern)
                return
        if self.text.startswith("[", self.at):
            self.many("]", path)
        elif self.text.startswith("{", self.at):
            self.many("}", path)
        else:
            self.skip(_SCALAR)

    def many(self, close: str, path: Path) -> None:
        """An array or an inline table, over as many lines as it takes."""
        self.at += 1
        item = 0
        while self.skip(_SPACE) is not None and self.at < len(self.text):
            if self.text.startswith(close, self.at):
                self.at += 1
                return
            if self.text.startswith(",", self.at):
                self.at += 1
                continue
            before = self.at
            if close == "}":
                self.pair(path)
            else:
                self.note((*path, item))
                self.value((*path, item))
                item += 1
            if self.at == before:
                return


def _unescaped(match: re.Match[str]) -> Any:
    code = match.group(1)
    return chr(int(code[1:], 16)) if code[0] in "uU" and len(code) > 1 else _ESCAPES.get(code, code)
