"""A row of `read_file` as a worker sent it, or an earlier run kept it: believed only in the shape of a row.

Plain data only, so that whoever hands us such data can at worst hand us a wrong row. A sentence keeps what it
is made of, a note what it is about.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, get_args

from audit.crew import wire
from audit.message.text import Text
from audit.scan.note import About, Note
from audit.scan.reader import HEAD_SUM, Row, plain
from audit.table.columns import SCAN

_ALWAYS = frozenset({"formats", "problem", "notes"})
_TYPES: dict[str, tuple[type, ...]] = {
    "text": (str, Text),
    "words": (str, Text),
    "real": (float,),
    "whole": (int,),
    "flag": (bool,),
    "time": (datetime,),
    "texts": (list,),
    "bytes": (bytes,),
}
_COLUMNS = {column.name: _TYPES[column.kind.name] for column in SCAN} | {HEAD_SUM: (int,)}
_ABOUT = get_args(About)


def packed(row: Row) -> bytes:
    """The row as bytes. Raises TypeError where it holds anything that `read_file` does not give."""
    return wire.packed(plain(row))


def unpacked(data: bytes) -> Row | None:
    """The row of which `packed` made these bytes; None where they are no row."""
    try:
        return checked(wire.unpacked(data))
    except ValueError:
        return None


def checked(sent: Any) -> Row | None:
    """A row of which `plain` made this, its notes made again; None where it is not of a row's shape."""
    if not isinstance(sent, dict) or not isinstance(sent.get("notes"), list):
        return None
    notes = [_note(pair) for pair in sent["notes"]]
    row = {**sent, "notes": notes}
    sound = all(value is None or type(value) in _COLUMNS.get(name, ()) for name, value in row.items())
    return row if sound and row.keys() >= _ALWAYS and None not in notes else None


def _note(pair: Any) -> str | None:
    if not (isinstance(pair, list) and len(pair) == 2 and isinstance(pair[0], str) and pair[1] in _ABOUT):
        return None
    return Note(*pair) if pair[1] else pair[0]
