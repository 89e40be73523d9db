"""Drafted spans that the photographer accepts as they stand: their marks come off, all else stays."""

from __future__ import annotations

from collections.abc import Sequence

from audit.declare.draft import NO_NEUTRAL_KEY
from audit.declare.marks import (
    BOM,
    COMMENT,
    ESTIMATED,
    LEVELS,
    NO_NEUTRAL,
    NO_RIG,
    WORDS,
    Block,
    data_of,
    unsealed,
)
from audit.errors import AuditError


def is_meant(block: Block, level: str) -> bool:
    """Whether a span is as it was drafted, of that sureness or better, and says what could be declared."""
    return block.own and LEVELS.index(block.level) >= LEVELS.index(level) and block.kind != NO_RIG


def accepted(block: Block, *, bare: bool = False) -> list[str]:
    """Its lines as the photographer's own; one without a neutral is declared `bare` where he says so."""
    lines = [_line(line, block, bare) for line in block.lines]
    return [line for line in lines if line != ESTIMATED]


def _line(line: str, block: Block, bare: bool) -> str:
    if line.startswith(WORDS):
        return unsealed(line.removeprefix(COMMENT), f"accepted from the draft, {block.level} ")
    line = line.removeprefix(COMMENT)
    # Drafts said "unknown" of it, in a comment, before there was a key for it.
    if block.kind != NO_NEUTRAL or not line.startswith(("neutral =", "unknown =")):
        return line
    return "bare = true" if bare else NO_NEUTRAL_KEY


def with_accepted(text: str, blocks: Sequence[Block], shown: str, *, bare: bool = False) -> str:
    """The text with these spans of it accepted, those without a neutral as `bare` or not, all else as it is.

    Raises AuditError where a span would take over keys that stand below it.
    """
    lines, out, at = text.split("\n"), list[str](), 0
    for block in blocks:
        out += lines[at : block.first]
        at = block.last + 1
        crlf = lines[block.first].endswith("\r")
        mine = [line + "\r" * crlf for line in accepted(block, bare=bare)]
        if at == len(lines):  # the file ends without a line end
            mine[-1] = mine[-1].removesuffix("\r")
        mine[0] = (BOM if block.first == 0 and text.startswith(BOM) else "") + mine[0]
        out += mine
    after = "\n".join([*out, *lines[at:]])
    if not _sound(text, after, blocks, bare):
        raise AuditError(
            f"{shown}: a span would take over keys of yours that stand below it, so nothing was changed; "
            "move them above the first [[worn]] or into the span they belong to, and run the command again"
        )
    return after


def _sound(before: str, after: str, blocks: Sequence[Block], bare: bool) -> bool:
    """Whether the accepted spans are what was added to the data, and nothing else changed."""
    (old_rest, old), (new_rest, new) = data_of(before), data_of(after)
    for block in blocks:
        if not block.comment:
            old -= data_of("\n".join(block.lines))[1]
        old += data_of("\n".join(accepted(block, bare=bare)))[1]
    return old_rest == new_rest and old == new
