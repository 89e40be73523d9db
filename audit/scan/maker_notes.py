"""ISO speed, lens and serial number that stand only in the maker's own notes, where exifread knows them.

exifread reads a maker's notes as a whole, byte for byte, which takes some ten times as long as all the rest.
Here it finds its way through them and reads only the few tags that are asked for.
"""

from __future__ import annotations

import io
import struct
from fractions import Fraction
from typing import Any, Literal

from exifread.core.exceptions import ExifError
from exifread.core.exif_header import ExifHeader
from exifread.tags.exif import EXIF_TAGS

from audit.disk.work import TookTooLongError, within
from audit.scan.containers.found import Block
from audit.scan.containers.source import Source
from audit.scan.exposure import ISO_RANGE, exposure_value
from audit.scan.tags import Tags, as_fraction

WORK_LIMIT_S = 0.25
"""Of the processor's time for one file; the notes of a camera take a thousandth of it."""
NOTE_BYTES = 16
"""As much of the note itself tells which layout it has."""
PARSER_FAULTS = (
    *(ExifError, struct.error, ArithmeticError, AssertionError, AttributeError, EOFError, LookupError),
    *(RecursionError, StopIteration, TypeError, ValueError),
)
"""What exifread is known to leak on damaged blocks."""
LACKING = ("iso", "lens", "body_serial")

# What is read of each directory. Of the makers whose notes exifread knows, those of others hold none of the
# three, or (a lens' number, which stands for several lenses) nothing to rely on.
_IMAGE, _EXIF = frozenset({0x010F, 0x0110, 0x8769}), frozenset({0x927C})
_NOTES = {
    "canon": frozenset({0x0001, 0x0004, 0x000C, 0x0095}),
    "nikon": frozenset({0x0002, 0x0013, 0x001D, 0x0084, 0x00A0}),
    "olympus": frozenset({0x0404, 0x101A}),
    "fujifilm": frozenset({0x0010}),
}
_ORDER: dict[str, Literal["little", "big"]] = {"I": "little", "M": "big"}
_RANGE = "LensMinMaxFocalMaxAperture"
LOW_MM, HIGH_MM = 0.5, 20_000.0
"""Outside these a focal length is a fault of the file: common practice, no source."""
_LABEL = "NO="
"""Some makers write it before the number."""
_SERIALS = ("SerialNumber", "InternalSerialNumber")


def lacking(row: dict[str, object]) -> bool:
    """Whether a row lacks something that the notes of its camera's maker may hold."""
    return any(row.get(name) is None for name in LACKING) and _maker(row.get("make")) is not None


def add_from_notes(row: dict[str, object], blocks: list[Block], source: Source) -> None:
    """Fills what a row lacks from the notes in its blocks, and says from which tag.

    Notes that are damaged, or take too long, tell nothing: what the standard tags said stays.
    """
    for block in blocks:
        if block.part != "whole":
            continue
        try:
            values = within(WORK_LIMIT_S, lambda block=block: _read(block, source, str(row.get("make"))))  # type: ignore[misc]
        except (TookTooLongError, *PARSER_FAULTS):
            continue
        found = {**_iso(values), **_lens(Tags(values)), **_serial(Tags(values))}
        for name, told in found.items():
            if row.get(name) is None:
                row.update(told)
    row["ev100"] = exposure_value(row)


class _Notes(ExifHeader):
    """exifread's way through a block, on which only wanted tags are read; `data` is the block in memory."""

    def __init__(self, handle: Any, data: bytes | None, endian: str, wanted: frozenset[int]) -> None:
        super().__init__(handle, endian, 0, 0, strict=False)
        self._data = data
        self._wanted = {"Image": _IMAGE, "EXIF": _EXIF, "MakerNote": wanted}

    def s2n(self, offset: int, length: int, signed: bool = False) -> int:
        """A whole number; 0 where the block ends before."""
        start = self.offset + offset
        if self._data is None or start < 0:
            return int(super().s2n(offset, length, signed))
        data = self._data[start : start + length]
        return int.from_bytes(data, _ORDER[self.endian], signed=signed) if len(data) == length else 0

    def dump_ifd(
        self, ifd: int, ifd_name: str, tag_dict: Any = EXIF_TAGS, relative: Any = 0, stop_tag: str = ""
    ) -> None:
        """Takes the wanted tags of a directory; an entry that the block's end cuts is none."""
        count = self.s2n(ifd, 2)
        self.file_handle.seek(self.offset + ifd + 2)
        table = self.file_handle.read(12 * count)
        layout = "<H10x" if self.endian == "I" else ">H10x"
        for number, (tag,) in enumerate(struct.iter_unpack(layout, table[: len(table) // 12 * 12])):
            if tag in self._wanted[ifd_name]:
                known = tag_dict.get(tag)
                name = known[0] if known else f"Tag 0x{tag:04X}"
                place = ifd + 2 + 12 * number
                self._process_tag(ifd, ifd_name, known, place, tag, name, relative, stop_tag)

    def _process_field(self, tag_name: str, count: int, *more: Any) -> list[Any]:
        return super()._process_field(
            tag_name, min(count, NOTE_BYTES) if tag_name == "MakerNote" else count, *more
        )


def _read(block: Block, source: Source, make: str) -> dict[str, Any]:
    """Values of the wanted tags by name, without the directory's."""
    handle: Any = source if block.data is None else io.BytesIO(block.data)
    handle.seek(0)
    endian = {b"I": "I", b"M": "M"}.get(handle.read(1))
    if endian is None:
        return {}
    notes = _Notes(handle, block.data, endian, _NOTES[_maker(make) or ""])
    notes.dump_ifd(notes._first_ifd(), "Image")
    place = notes.tags.get("Image ExifOffset")
    if place is None:
        return {}
    notes.dump_ifd(place.values[0], "EXIF")
    if "EXIF MakerNote" in notes.tags and "Image Make" in notes.tags:
        notes.decode_maker_note()
    named = {name.partition(" "): tag.values for name, tag in notes.tags.items()}
    return {name: value for (directory, _, name), value in named.items() if directory == "MakerNote"}


def _maker(make: object) -> str | None:
    """The maker's name as exifread tells layouts apart by; None where there is nothing to read."""
    folded = str(make).casefold()
    return next((name for name in _NOTES if folded.startswith(name)), None)


def _iso(values: dict[str, Any]) -> dict[str, dict[str, object]]:
    """ISO speed: as a number, or as a sum of base speed and automatic gain in 1/32 of a stop."""
    for name in ("ISOSetting", "ISOSpeedRequested"):
        written = values.get(name)
        if isinstance(written, list) and len(written) == 2:
            found = _as_iso(as_fraction(written[1]), name)
            if found:
                return found
    written = str(values.get("ISO", ""))
    if written.isdecimal():
        found = _as_iso(Fraction(written), "ISO")
        if found:
            return found
    base, auto = (as_fraction(values.get(name)) for name in ("BaseISO", "AutoISO"))
    if not base or auto is None:
        return {}
    gain = auto - 0x10000 if auto >= 0x8000 else auto
    return _as_iso(Fraction(round(100 / 32 * 2 ** float((base + gain) / 32))), "BaseISO")


def _as_iso(value: Fraction | None, name: str) -> dict[str, dict[str, object]]:
    low, high = ISO_RANGE
    if value is None or not low <= value <= high:
        return {}
    return {"iso": {"iso": float(value), "iso_source": f"MakerNote {name}"}}


def _lens(tags: Tags) -> dict[str, dict[str, object]]:
    """The lens by name, or by its focal lengths and largest openings."""
    name = tags.text("LensModel")
    if name:
        return {"lens": {"lens": name, "lens_from": "MakerNote LensModel"}}
    numbers = [as_fraction(tags.item(_RANGE, index=index)) for index in range(4)]
    if not numbers[0] or not numbers[1] or not all(LOW_MM <= n <= HIGH_MM for n in numbers[:2] if n):
        return {}
    low, high, *openings = (f"{float(number):.3g}" if number else "" for number in numbers)
    words = [f"{low} mm" if low == high else f"{low}-{high} mm"]
    if all(openings):
        words.append("f/" + "-".join(dict.fromkeys(openings)))
    ends = {"lens_focal_min_mm": float(numbers[0]), "lens_focal_max_mm": float(numbers[1])}
    return {"lens": {"lens": " ".join(words), "lens_from": f"MakerNote {_RANGE}", **ends}}


def _serial(tags: Tags) -> dict[str, dict[str, object]]:
    for name in _SERIALS:
        number = tags.whole(name)
        text = tags.text(name) or (str(number) if number else None)
        text = (text or "").removeprefix(_LABEL).strip()
        if text.strip("0"):
            return {"body_serial": {"body_serial": text, "serial_from": f"MakerNote {name}"}}
    return {}
