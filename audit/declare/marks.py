"""The marks of drafted spans: what this program wrote and nobody touched since.

A drafted span is a paragraph (lines without a blank one between them) that carries a digest of its own text.
Whatever somebody changes, joins to it or puts into its table makes the digest or the paragraph another, and
then the span is the photographer's. Nothing else tells the two apart, so nothing is guessed.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from audit.toml.lines import value_lines

LEVELS = ("unsure", "likely", "sure")
NO_NEUTRAL, NO_RIG = "none", "unfit"
"""What a span may be besides: one without a neutral, one whose filters the kit cannot carry."""
WORN = "[[worn]]"
ESTIMATED = 'source = "estimated"'
COMMENT, WORDS = "# ", "# # "
"""What stands before a line that declares nothing, and before words: with one mark less still a comment."""
_MARK = re.compile(r"^(#[# ]*)\[draft (sure|likely|unsure)(?: (none|unfit))? ([0-9a-f]{8})\] ?")
BOM = "\ufeff"


@dataclass(frozen=True)
class Block:
    """A paragraph with a mark, on the lines `first` to `last` of its file, counted from 0.

    `own`: as it was drafted. `level` is its sureness, `kind` NO_NEUTRAL, NO_RIG or "".
    """

    first: int
    last: int
    lines: tuple[str, ...]
    level: str
    kind: str
    own: bool

    @property
    def comment(self) -> bool:
        """Whether it declares nothing: each of its lines is a comment."""
        return all(line.lstrip().startswith("#") for line in self.lines)

    @property
    def estimated(self) -> bool:
        """Whether it declares, and says that it is an estimate."""
        return not self.comment and self.span.get("source") == "estimated"

    @property
    def span(self) -> dict[str, Any]:
        """Its keys, whether they stand in comments or not; empty where they cannot be read."""
        lines = without_marks(self.lines) if self.comment else self.lines
        try:
            (span,) = tomllib.loads("\n".join(lines))["worn"]
        except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError):
            return {}
        return span if isinstance(span, dict) else {}


def drafted(keys: Sequence[str], words: Sequence[str], level: str, kind: str, *, comment: bool) -> str:
    """A span as text: header, words with the mark before the first, keys; sealed by its digest."""
    before = COMMENT if comment else ""
    mark = f"{WORDS}[draft {level}{f' {kind}' if kind else ''} {'0' * 8}] {words[0]}"
    lines = [before + WORN, mark, *(WORDS + line for line in words[1:]), *(before + key for key in keys)]
    lines[1] = lines[1].replace("0" * 8, _digest(lines), 1)
    return "\n".join(lines)


def without_marks(lines: Sequence[str]) -> tuple[str, ...]:
    """The first mark of each line taken off: words stay comments, all else is TOML."""
    return tuple(line.removeprefix(COMMENT) for line in lines)


def unsealed(line: str, instead: str) -> str:
    """A line with its mark replaced by words; others as they are."""
    return _MARK.sub(lambda found: COMMENT + instead, line)


def marked_blocks(text: str) -> list[Block]:
    """All paragraphs of a TOML text that carry a mark, in their order."""
    lines = plain_lines(text)
    return [block for first, last in _paragraphs(text, lines) if (block := _block(lines, first, last))]


def own_blocks(text: str) -> list[Block]:
    """The spans as they were drafted."""
    return [block for block in marked_blocks(text) if block.own]


def blanked(text: str) -> str:
    """The text with empty lines in the place of all that is as it was drafted, so that line numbers stay."""
    lines = text.split("\n")
    for block in own_blocks(text):
        for at in range(block.first, block.last + 1):
            lines[at] = "\r" if lines[at].endswith("\r") else ""
    return "\n".join(lines)


def theirs(text: str) -> tuple[str, list[str]]:
    """All that is the photographer's: the data, and the lines that are not blank, byte for byte."""
    rest = blanked(text)
    said = repr(tomllib.loads(rest.removeprefix(BOM)))  # by repr, since no NaN equals another
    return said, [line.rstrip("\r") for line in rest.split("\n") if line.strip()]


def data_of(text: str) -> tuple[str, Counter[str]]:
    """The keys above the spans, and the spans; by repr, since no NaN equals another."""
    data = tomllib.loads(text.removeprefix(BOM))
    return repr({k: v for k, v in data.items() if k != "worn"}), Counter(map(repr, data.get("worn", [])))


def plain_lines(text: str) -> list[str]:
    """Lines without their ends; TOML knows no others than LF and CRLF."""
    return [line.removesuffix("\r") for line in text.removeprefix(BOM).split("\n")]


def _digest(lines: Sequence[str]) -> str:
    """Of the lines with zeros in the place of the digest itself."""
    return hashlib.sha256("\n".join(lines).encode("utf-8", "surrogatepass")).hexdigest()[:8]


def _paragraphs(text: str, lines: list[str]) -> Iterator[tuple[int, int]]:
    """First and last line of each run of lines that are not blank; a value over many lines is one piece."""
    inside = {
        line - 1 for first, last in value_lines(text.removeprefix(BOM)) for line in range(first, last + 1)
    }
    first = None
    for at, line in enumerate([*lines, ""]):
        if line.strip() or at in inside:
            first = at if first is None else first
        elif first is not None:
            yield first, at - 1
            first = None


def _block(lines: list[str], first: int, last: int) -> Block | None:
    mine = lines[first : last + 1]
    found = next((mark for line in mine if (mark := _MARK.match(line))), None)
    if found is None:
        return None
    own = _untouched(mine) and (mine[0] != WORN or not _goes_on(lines, last + 1))
    return Block(first, last, tuple(mine), found[2], found[3] or "", own)


def _untouched(lines: list[str]) -> bool:
    """Whether a paragraph is as it was drafted."""
    found = _MARK.match(lines[1]) if len(lines) > 1 and lines[0] in (WORN, COMMENT + WORN) else None
    if found is None:
        return False
    line = lines[1][: found.start(4)] + "0" * 8 + lines[1][found.end(4) :]
    return _digest([lines[0], line, *lines[2:]]) == found[4]


def _goes_on(lines: list[str], at: int) -> bool:
    """Whether a key follows before the next header: it would belong to the span, as TOML counts."""
    rest = (line.strip() for line in lines[at:])
    return not next((line for line in rest if line and not line.startswith("#")), "[").startswith("[")
