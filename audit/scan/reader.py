"""The one seam from a file to a row: `read_file(path)` gives plain data and never raises for a bad file.

A limit from outside, several processes and a cache have their place around this function.
"""

from __future__ import annotations

import io
import logging
import zlib
from pathlib import Path
from typing import Any

import exifread

from audit.disk.card import SilentCardError
from audit.disk.work import FILE_S, MEMORY_BYTES, TookTooLongError, within
from audit.message.text import marked, say
from audit.scan.containers import find_blocks
from audit.scan.containers.found import THUMBNAIL_LIMIT, Block, as_thumbnail
from audit.scan.containers.source import BUFFER, Source
from audit.scan.exif import row_values
from audit.scan.folder import split_ending
from audit.scan.maker_notes import PARSER_FAULTS, add_from_notes, lacking
from audit.scan.note import Note, about
from audit.scan.ordinary import ordinary_tags
from audit.scan.tags import Tags, as_fraction

TOOK_TOO_LONG = marked("not read within {seconds:g} s of work")
OUT_OF_MEMORY = marked("reading it needs more memory than one file may take ({gib:g} GiB)")
HEAD_SUM = "head_sum"  # check sum of the first 64 KiB, to tell copies apart

# A block that holds none of these tells nothing about the frame.
_WORTH_A_ROW = (
    *("make", "model", "lens", "captured_at", "exposure_time_s", "f_number", "iso", "focal_length_mm"),
    *("exposure_bias_stops", "exposure_program"),
)
_PART_NAMES = {"exif": "EXIF", "gps": "GPS"}
# A split container's GPS directory is parsed as a first directory; the two tags that matter, renamed.
_GPS_TAGS = {"Tag 0x0002": "GPSLatitude", "Tag 0x0004": "GPSLongitude"}

logging.getLogger("exifread").setLevel(logging.CRITICAL + 1)  # its lines are no use to the photographer


Row = dict[str, Any]


def plain(row: Row) -> Row:
    """The row without any class of ours: its notes as pairs of the words and what they are about."""
    return {**row, "notes": [[note, about(note)] for note in row["notes"]]}


def read_file(path: Path, limit_s: float = FILE_S) -> dict[str, Any]:
    """Everything the scan reads of one file, as plain data; a file that cannot be read has a `problem`.

    Keys are the scan columns that come from one file (`formats` and `notes` among them) and `HEAD_SUM`.
    `limit_s` is how long one try may take, in the processor's time [s].
    A file is read once more before it is said to be damaged or not to be read, unless the card is silent or
    its time is over.
    """
    first, final = _attempt(path, limit_s)
    doubt = _doubt(first)
    if not doubt or final:
        return first
    row, _ = _attempt(path, limit_s)
    if not _doubt(row):
        note = say("was read at the second try; the first ended with: {problem}", problem=doubt)
        row["notes"].append(Note(note, "second try"))
    return row


def _doubt(row: dict[str, Any]) -> str:
    """What a row calls a problem of its file or damage in it; "" where nothing."""
    return row["problem"] or next((note for note in row["notes"] if about(note) == "damage"), "")


def _attempt(path: Path, limit_s: float) -> tuple[dict[str, Any], bool]:
    """The row, and whether another try is of no use: the card was silent, or the time was over."""
    row: dict[str, Any] = {"formats": split_ending(path.name)[1].upper(), "problem": None, "notes": []}
    try:
        within(limit_s, lambda: _open_and_read(path, row))
    except TookTooLongError:
        row["problem"] = say(TOOK_TOO_LONG, seconds=limit_s)
        return row, True
    except SilentCardError as error:
        row["problem"] = error.strerror
        return row, True
    except OSError as error:
        reason = error.strerror or marked("input/output error")
        row["problem"] = say("the file could not be read: {reason}", reason=reason)
    except MemoryError:
        row["problem"] = say(OUT_OF_MEMORY, gib=MEMORY_BYTES / 2**30)
    except PARSER_FAULTS as error:
        row["problem"] = say("the EXIF block is damaged ({fault_name})", fault_name=type(error).__name__)
    return row, False


def _open_and_read(path: Path, row: dict[str, object]) -> None:
    with Source(path) as source:
        row["size_bytes"] = source.size
        row[HEAD_SUM] = zlib.crc32(source.at(0, BUFFER))
        _read(source, split_ending(path.name)[1], row)


def _read(source: Source, ending: str, row: dict[str, object]) -> None:
    """Fills the row step by step, so that a fault later on leaves what was learned before."""
    found = find_blocks(source, ending)
    row.update(
        formats=found.format, problem=found.problem, width_px=found.width_px, height_px=found.height_px
    )
    notes = list(found.notes)
    row["notes"] = notes
    if found.format == "JPEG" and ending not in ("jpg", "jpeg", "jpe", "thm"):
        notes.append(say("the name ends in .{ending_written}, the content is JPEG", ending_written=ending))
    row["thumbnail_jpeg"] = found.thumbnail
    if found.preview is not None:
        row.update(preview_offset=found.preview.offset, preview_bytes=found.preview.length)
    values = dict(found.tags)
    for block in found.blocks:
        values = {**_parse(source, block, row), **values}
    if not values:
        row["problem"] = found.problem or marked("the file holds no EXIF")
        return
    tags = Tags(values)
    row.update(row_values(tags, found))
    if lacking(row):
        add_from_notes(row, found.blocks, source)
    notes.extend(dict.fromkeys(tags.notes))
    if not tags.notes and all(row.get(name) is None for name in _WORTH_A_ROW):
        row["problem"] = marked("the EXIF block holds nothing about camera, time or exposure")


def _parse(source: Source, block: Block, row: dict[str, object]) -> dict[str, Any]:
    """Values of a block by tag name; the block's thumbnail goes into the row."""
    values = None if block.data is None else ordinary_tags(block.data)
    if values is None:
        values = _by_exifread(source, block)
    if block.part != "whole":
        prefix = _PART_NAMES[block.part]
        bare = {name.removeprefix("Image "): value for name, value in values.items()}
        return {f"{prefix} {_GPS_TAGS.get(n, n) if prefix == 'GPS' else n}": v for n, v in bare.items()}
    if row.get("thumbnail_jpeg") is None:
        row["thumbnail_jpeg"] = _thumbnail(source, block, values)
    return values


def _by_exifread(source: Source, block: Block) -> dict[str, Any]:
    data = source.at(0, source.size) if source.size <= BUFFER else None
    data = data if block.data is None else block.data
    handle: Any = source if data is None else io.BytesIO(data)  # exifread goes back and forth in it
    parsed = exifread.process_file(handle, details=False, extract_thumbnail=False)
    return {name: tag.values for name, tag in parsed.items() if hasattr(tag, "values")}


def _thumbnail(source: Source, block: Block, values: dict[str, Any]) -> bytes | None:
    names = ("Thumbnail JPEGInterchangeFormat", "Thumbnail JPEGInterchangeFormatLength")
    place = [as_fraction((values.get(name) or [None])[0]) for name in names]
    if place[0] is None or place[1] is None or not 0 < place[1] <= THUMBNAIL_LIMIT:
        return None
    offset, length = int(place[0]), int(place[1])
    return as_thumbnail(
        source.at(offset, length) if block.data is None else block.data[offset : offset + length]
    )
