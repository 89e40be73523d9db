"""The quick reader of ordinary blocks against exifread, on good blocks and on damaged ones."""

from __future__ import annotations

import io
import os
import random
import struct
from collections import Counter
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import exifread
import pytest
from camera_files import camera, short, text, tiff, whole
from exifread.core.exif_header import ExifHeader
from many_tags import ISO, LAYOUTS, LENS, MAKER_NOTE, SERIAL, as_jpeg, full

from audit.scan import maker_notes, reader
from audit.scan.containers import find_blocks
from audit.scan.containers.source import Source
from audit.scan.folder import split_ending
from audit.scan.note import about
from audit.scan.ordinary import LONG_LIST, ordinary_tags
from audit.scan.reader import read_file

CASES = 10_000 if "CORNERSTOP_FUZZ" in os.environ else 2_000
SEED = 22
GOOD = [(make, order, without) for make in LAYOUTS for order in "<>" for without in ((), (ISO, SERIAL, LENS))]
POINTERS = (0x8769, 0x8825)
TAGS = (*POINTERS, 0xA005, 0x927C, 0x9286, 0x02BC, 0x0201, 0x0202, 0x010F, 0x829A, 0x9003, 0xA432)
LARGE = (0, 1, 7, 255, 256, 999, 1000, 0x7FFF, 0x8000, 0xFFFF, 0x10000, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)


def by_exifread(block: bytes) -> dict[str, Any]:
    parsed = exifread.process_file(io.BytesIO(block), details=False, extract_thumbnail=False)
    return {name: tag.values for name, tag in parsed.items() if hasattr(tag, "values")}


def exact(values: dict[str, Any]) -> dict[str, str]:
    """Values with the types of all their items; NaN equals NaN here."""
    return {
        name: repr((value, type(value), [type(item) for item in value] if isinstance(value, list) else ""))
        for name, value in values.items()
    }


def blocks_of(files: list[Path]) -> Iterator[tuple[Path, bytes]]:
    for path in files:
        with Source(path) as source:
            found = find_blocks(source, split_ending(path.name)[1])
        yield from ((path, block.data) for block in found.blocks if block.data is not None)


@pytest.mark.parametrize("order", "<>")
@pytest.mark.parametrize("make", LAYOUTS)
def test_what_cameras_write_is_ordinary_and_read_as_exifread_does(make: str, order: str) -> None:
    block = full(make, order, 5)
    found = ordinary_tags(block)
    assert found is not None
    assert len(found) > 60
    assert exact(found) == exact(by_exifread(block))


@pytest.mark.parametrize(
    "value",
    [
        *((1, (1, 2)), (2, (b"",)), (2, (b"\xe9t\xe9\0",)), (2, (b"caf\xc3\xa9\0more\0",)), (2, (b" ",))),
        *(
            (3, (7,)),
            (3, (7, 8, 9)),
            (4, (1 << 31,)),
            (5, ((1, 0),)),
            (5, ((0, 0), (6, 4))),
            (7, (b"abcde",)),
        ),
        *((10, ((-1, 3),)), (10, ((1, -3),)), (10, ((0, 0),)), (11, (0.1,)), (11, (float("nan"),))),
        *((3, (1,) * (LONG_LIST - 1)), (3, (1,) * LONG_LIST), (2, (b"a" * 2000,)), (3, ())),
    ],
)
@pytest.mark.parametrize("tag", [0x112, 0x8298, 0xFDE7])
def test_every_kind_of_value(tag: int, value: tuple[int, tuple[Any, ...]]) -> None:
    first, exif = camera(image={tag: value}, more={tag: value})
    for order in "<>":
        found = ordinary_tags(tiff(first, exif, order=order))
        assert found is not None
        assert exact(found) == exact(by_exifread(tiff(first, exif, order=order)))


def directories_of(block: bytes, order: str) -> list[list[int]]:
    """Where the entries of each directory lie."""
    found, places = [], [struct.unpack_from(order + "I", block, 4)[0]]
    while places:
        start = places.pop()
        (count,) = struct.unpack_from(order + "H", block, start)
        entries = [start + 2 + 12 * n for n in range(count)]
        found.append(entries)
        fields = [(*struct.unpack_from(order + "HHII", block, entry),) for entry in entries]
        places += [place for tag, _, _, place in fields if tag in POINTERS]
        following = struct.unpack_from(order + "I", block, start + 2 + 12 * count)[0]
        if len(found) == 1 and following:
            places.append(following)
    return found


def nested() -> bytes:
    """Many texts, each of which takes up the whole block."""
    block = bytearray(tiff({tag: text("a" * 50) for tag in range(0xE000, 0xE010)}))
    for entry in directories_of(bytes(block), "<")[0]:
        struct.pack_into("<II", block, entry + 4, len(block), 0)
    return bytes(block)


@pytest.mark.parametrize(
    ("what", "block"),
    [
        ("no TIFF", b"II+\0" + full("Canon", "<", 0)[4:]),
        ("cut within a directory", full("Canon", "<", 0)[:300]),
        ("a directory in the head", tiff({0x8769: whole(0)})),
        ("a place that is text", tiff({0x8769: text("abcdefgh")})),
        ("two places", tiff({0x8825: whole(8, 8)})),
        ("a cycle", tiff({0x112: short(1)}, thumbnail=b"")[:-4] + struct.pack("<I", 8)),
        ("a text of all of it, again and again", nested()),
        ("a position within the Exif directory", tiff({}, {0x8825: whole(8)})),
    ],
)
def test_what_is_left_to_exifread(what: str, block: bytes) -> None:
    assert ordinary_tags(block) is None, what


@pytest.mark.parametrize(("folder", "least"), [("photos", 0.9), ("hostile", 0.5)])
def test_files_beside_the_project(folder: str, least: float, request: pytest.FixtureRequest) -> None:
    files = sorted(path for path in request.getfixturevalue(folder).rglob("*") if path.is_file())
    blocks = list(blocks_of(files))
    taken = [(path, block, found) for path, block in blocks if (found := ordinary_tags(block)) is not None]
    assert len(taken) >= least * len(blocks)
    for path, block, found in taken:
        assert exact(found) == exact(by_exifread(block)), path
    slow = folder == "hostile"  # some take as long as they may; what is not ordinary is left to exifread
    for path in dict.fromkeys(path for path, _, _ in taken) if slow else files:
        assert row(path) == row_by_exifread(path), path


def test_mutated_headers(tmp_path: Path) -> None:
    rng = random.Random(SEED)
    good = [full(make, order, 3, without) for make, order, without in GOOD]
    path, taken = tmp_path / "TARN0001.JPG", 0
    for case in range(CASES):
        block = mutated(rng.choice(good), rng)
        found = ordinary_tags(block)
        if found is None:
            continue
        taken += 1
        assert exact(found) == exact(by_exifread(block)), case
        path.write_bytes(as_jpeg(block))
        assert row(path) == row_by_exifread(path), case
    assert taken > 0.3 * CASES


def row(path: Path) -> tuple[dict[str, Any], list[str]]:
    """The row of a file, and what its notes are about."""
    found = read_file(path)
    return found, [about(note) for note in found["notes"]]


def row_by_exifread(path: Path) -> tuple[dict[str, Any], list[str]]:
    """The same, with exifread asked throughout."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "ordinary_tags", lambda _: None)
        patch.setattr(maker_notes, "_Notes", Notes)
        return row(path)


class Notes(ExifHeader):
    """exifread alone, entry by entry; without the tags that nobody asks for, of which some take it long."""

    def __init__(self, handle: Any, _data: bytes | None, endian: str, wanted: frozenset[int]) -> None:
        super().__init__(handle, endian, 0, 0, strict=False)
        self._wanted = {"Image": maker_notes._IMAGE, "EXIF": maker_notes._EXIF, "MakerNote": wanted}

    def _process_tag(self, ifd: int, ifd_name: str, tag_entry: Any, entry: int, tag: int, *more: Any) -> None:
        if tag in self._wanted[ifd_name]:
            super()._process_tag(ifd, ifd_name, tag_entry, entry, tag, *more)

    def _process_field(self, tag_name: str, count: int, *more: Any) -> list[Any]:
        of_note = tag_name == "MakerNote"
        return super()._process_field(tag_name, min(count, 16) if of_note else count, *more)


def test_mutated_notes(tmp_path: Path) -> None:
    rng, told = random.Random(SEED), Counter[str]()
    good = [(make, full(make, order, 3, (ISO, SERIAL, LENS))) for make in LAYOUTS[:-1] for order in "<>"]
    path = tmp_path / "TARN0001.JPG"
    for case in range(CASES // 8):
        make, block = rng.choice(good)
        data = bytearray(block)
        order, (start, length) = "<" if block[:1] == b"I" else ">", place_of_note(block)
        for _ in range(rng.choice((1, 1, 2, 5))):
            at = start + rng.randrange(rng.choice((14, 100, length - 4)))
            layout, most = rng.choice((("B", 0xFF), ("H", 0xFFFF), ("I", 0xFFFFFFFF)))
            number = rng.choice((rng.choice(LARGE) & most, rng.randrange(14), rng.randrange(most + 1)))
            struct.pack_into(order + layout, data, at, number)
        path.write_bytes(as_jpeg(bytes(data)))
        found = row(path)
        assert found == row_by_exifread(path), case
        told[make] += "MakerNote" in str(found)
    assert min(told.values()) > CASES // 80, told


def place_of_note(block: bytes) -> tuple[int, int]:
    order = "<" if block[:1] == b"I" else ">"
    for entry in chain.from_iterable(directories_of(block, order)):
        tag, _, length, place = struct.unpack_from(order + "HHII", block, entry)
        if tag == MAKER_NOTE:
            return place, length
    raise LookupError


def mutated(block: bytes, rng: random.Random) -> bytes:
    """A block with a few fields of its directories changed."""
    data = bytearray(block)
    order = "<" if block[:1] == b"I" else ">"
    directories = [entries for entries in directories_of(block, order) if entries]
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        entries = rng.choice(directories)
        change(data, order, entries, rng)
    return bytes(data)


def change(data: bytearray, order: str, entries: list[int], rng: random.Random) -> None:
    """Changes one thing of a directory or of one of its entries."""
    entry = rng.choice(entries)
    number, small = rng.choice((*LARGE, rng.randrange(len(data)))), rng.randrange(16)
    match rng.randrange(9):
        case 0:
            struct.pack_into(order + "H", data, entry, rng.choice((*TAGS, rng.randrange(1 << 16))))
        case 1:
            struct.pack_into(order + "H", data, entry + 2, rng.choice((small, small, number & 0xFFFF)))
        case 2:
            struct.pack_into(order + "I", data, entry + 4, rng.choice((small, number)))
        case 3:
            struct.pack_into(order + "I", data, entry + 8, rng.choice((small, number, *entries[:1])))
        case 4:  # one entry twice
            data[entry : entry + 12] = data[(other := rng.choice(entries)) : other + 12]
        case 5:  # a directory longer or shorter than it is, by a little: exifread takes long for the rest
            struct.pack_into(order + "H", data, entries[0] - 2, max(0, len(entries) + rng.randint(-3, 3)))
        case 6:  # what follows
            struct.pack_into(order + "I", data, entries[-1] + 12, rng.choice((0, entries[0] - 2, number)))
        case 7:
            data[rng.randrange(8)] = rng.choice(b"IM*\0\x08\xff")
        case _:
            for _ in range(rng.randint(1, 8)):
                data[rng.randrange(8, len(data))] = rng.choice((0, 0xFF, 0x80, rng.randrange(256)))
