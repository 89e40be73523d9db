from __future__ import annotations

import io
import struct
import time
from pathlib import Path

import numpy as np
import pytest
from camera_files import block, box, camera, jpeg, put, raf, raw, rw2, segment, tiff, whole
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from audit.demo.exif_block import with_exif
from audit.demo.header import with_preview
from audit.scan import scan
from audit.scan.containers import find_blocks
from audit.scan.containers.source import Source
from audit.scan.reader import read_file

FIRST, EXIF = camera()


def photo(width: int = 640, height: int = 427, mode: str = "RGB", level: int = 100) -> bytes:
    out = io.BytesIO()
    Image.new(mode, (width, height), (level, 120, 90)[: len(mode)] if mode != "L" else level).save(
        out, "JPEG"
    )
    return out.getvalue()


PREVIEW = photo()
PICTURE = with_exif(photo(900, 600), block())


def taken(path: Path) -> bytes | None:
    """The bytes at the place that the scan found."""
    row = read_file(path)
    if row.get("preview_offset") is None:
        return None
    start, length = row["preview_offset"], row["preview_bytes"]
    assert isinstance(start, int) and isinstance(length, int)
    return path.read_bytes()[start : start + length]


def mpf(entries: list[tuple[int, bytes]], order: str = ">", picture: bytes = PICTURE) -> bytes:
    """A JPEG with a Multi-Picture segment of (attribute, JPEG) entries behind the picture."""
    split = 4 + int.from_bytes(picture[4:6], "big")
    size = 8 + 2 + 3 * 12 + 4 + 16 * (len(entries) + 1)
    behind = len(picture) + 4 + 4 + size - (split + 8)
    rows = struct.pack(order + "3I2H", 0x20030000, 0, 0, 0, 0)
    for attribute, data in entries:
        rows += struct.pack(order + "3I2H", attribute, len(data), behind, 0, 0)
        behind += len(data)
    table = struct.pack(order + "HHHI4s", 3, 0xB000, 7, 4, b"0100")
    table += struct.pack(order + "HHII", 0xB001, 4, 1, len(entries) + 1)
    table += struct.pack(order + "HHIII", 0xB002, 7, len(rows), 50, 0)
    head = (b"II" if order == "<" else b"MM") + struct.pack(order + "HI", 42, 8)
    index = segment(0xE2, b"MPF\0" + head + table + rows)
    return picture[:split] + index + picture[split:] + b"".join(data for _, data in entries)


def test_a_preview_behind_the_picture_as_another_reader_sees_it(tmp_path: Path) -> None:
    path = put(tmp_path, "a.jpg", with_preview(PICTURE, PREVIEW))
    assert taken(path) == PREVIEW
    with Image.open(path) as picture:
        assert picture.format == "MPO"
        assert picture.n_frames == 2  # type: ignore[attr-defined]
        assert picture.size == (900, 600)
        picture.seek(1)
        second = np.asarray(picture.convert("RGB"))
    assert np.array_equal(second, np.asarray(Image.open(io.BytesIO(PREVIEW))))
    assert picture.mpinfo[0xB002][1]["Attribute"]["MPType"].startswith("Large Thumbnail (VGA")  # type: ignore[attr-defined]


@pytest.mark.parametrize("order", ["<", ">"])
def test_of_several_previews_the_smallest_that_is_ample(tmp_path: Path, order: str) -> None:
    hd, vga, full = photo(1620, 1080), photo(), photo(3000, 2000)
    sizes = [(0x010001, vga), (0x010002, hd), (0x010003, full)]
    assert taken(put(tmp_path, "a.jpg", mpf(sizes, order))) == hd
    assert taken(put(tmp_path, "b.jpg", mpf(sizes[:1], order))) == vga


@pytest.mark.parametrize(
    ("attribute", "data"),
    [
        (0x000000, PREVIEW),  # undefined: a gain map, say
        (0x020001, PREVIEW),  # the next picture of a panorama
        (0x020002, PREVIEW),  # the other eye
        (0x030000, PREVIEW),
        (0x01010001, PREVIEW),  # another format than JPEG
        (0x010001, photo(320, 240)),  # a thumbnail
        (0x010001, photo(640, 427, "L")),
        (0x010001, b"\xff\xd8\xff\xd9"),
        (0x010001, b""),
    ],
)
def test_what_is_no_preview(tmp_path: Path, attribute: int, data: bytes) -> None:
    assert taken(put(tmp_path, "a.jpg", mpf([(attribute, data)]))) is None


def test_the_thumbnail_of_the_exif_block_is_none(tmp_path: Path) -> None:
    small = photo(160, 120)
    path = put(tmp_path, "a.jpg", with_exif(photo(900, 600), block(thumbnail=small)))
    assert read_file(path)["thumbnail_jpeg"] == small
    assert taken(path) is None


def in_directory(data: bytes, **change: int) -> bytes:
    """A TIFF whose sub-directory points at a JPEG in one strip."""
    tags = {0x103: 7, 0x106: 6, 0x111: 0, 0x117: len(data)} | {int(k[1:], 16): v for k, v in change.items()}

    def file(at: int) -> bytes:
        sub = {tag: whole(value if tag != 0x111 else at) for tag, value in tags.items()}
        return tiff(FIRST, EXIF, sub=sub)

    return file(len(file(0))) + data


def test_a_jpeg_in_a_strip_of_a_sub_directory(tmp_path: Path) -> None:
    assert taken(put(tmp_path, "a.dng", in_directory(PREVIEW))) == PREVIEW
    assert taken(put(tmp_path, "b.nef", in_directory(PREVIEW, x103=6))) == PREVIEW


def test_raw_data_coded_as_jpeg_is_no_preview(tmp_path: Path) -> None:
    lossless = PREVIEW.replace(b"\xff\xc0", b"\xff\xc3", 1)
    assert taken(put(tmp_path, "a.cr2", in_directory(lossless))) is None
    twelve_bits = PREVIEW.replace(b"\xff\xc0\x00\x11\x08", b"\xff\xc1\x00\x11\x0c", 1)
    assert twelve_bits != PREVIEW
    assert taken(put(tmp_path, "b.dng", in_directory(twelve_bits))) is None
    for name, photometric in (("c.dng", 32803), ("d.dng", 34892)):
        assert taken(put(tmp_path, name, in_directory(PREVIEW, x106=photometric))) is None
    without_tables = PREVIEW.replace(b"\xff\xdb", b"\xff\xe9")
    assert taken(put(tmp_path, "e.tif", in_directory(without_tables))) is None
    assert taken(put(tmp_path, "f.dng", in_directory(PREVIEW, x103=1))) is None


def test_a_jpeg_by_the_exif_tags_in_a_linked_directory(tmp_path: Path) -> None:
    assert taken(put(tmp_path, "a.pef", tiff(FIRST, EXIF, thumbnail=PREVIEW))) == PREVIEW
    assert taken(put(tmp_path, "b.arw", tiff(FIRST, EXIF, thumbnail=PREVIEW, order=">"))) == PREVIEW
    assert taken(put(tmp_path, "c.pef", tiff(FIRST, EXIF, thumbnail=photo(160, 120)))) is None


def test_linked_directories_in_a_ring_end(tmp_path: Path) -> None:
    content = bytearray(tiff(FIRST, EXIF, thumbnail=PREVIEW))
    count = struct.unpack_from("<H", content, 8)[0]
    struct.pack_into("<I", content, 8 + 2 + 12 * count, 8)
    assert taken(put(tmp_path, "a.nef", bytes(content))) is None


def test_embedded_jpegs_of_raf_and_rw2(tmp_path: Path) -> None:
    embedded = with_exif(PREVIEW, block())
    assert taken(put(tmp_path, "a.raf", raf(embedded))) == embedded
    assert taken(put(tmp_path, "a.rw2", rw2(embedded, (0, 0, 3000, 4000)))) == embedded


def cr3(beside: bytes = b"", tracks: bytes = b"") -> bytes:
    parts = box(b"CMT1", tiff(FIRST)) + box(b"CMT2", tiff(EXIF))
    uuid = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
    movie = box(b"moov", box(b"uuid", uuid + parts) + tracks)
    return box(b"ftyp", b"crx \0\0\0\1crx isom") + movie + beside


def test_the_preview_box_of_cr3_or_else_a_track(tmp_path: Path) -> None:
    head = struct.pack(">IHHHHI", 0, 1, 640, 427, 1, len(PREVIEW))
    uuid = bytes.fromhex("eaf42b5e1c984b88b9fbb7dc406e4d16")
    shown = box(b"uuid", uuid + bytes(8) + box(b"PRVW", head + PREVIEW))
    assert taken(put(tmp_path, "a.cr3", cr3(shown))) == PREVIEW

    def tracks(place: int) -> bytes:
        made = b""
        for at, size in ((place - 8, 8), (place, len(PREVIEW))):
            table = box(b"stsz", struct.pack(">III", 0, size, 1)) + box(
                b"co64", struct.pack(">IIQ", 0, 1, at)
            )
            made += box(b"trak", box(b"mdia", box(b"minf", box(b"stbl", table))))
        return made

    place = len(cr3(tracks=tracks(8))) + 16
    content = cr3(tracks=tracks(place)) + box(b"mdat", bytes(8) + PREVIEW)
    assert taken(put(tmp_path, "b.cr3", content)) == PREVIEW


def crw(preview: bytes) -> bytes:
    record = struct.pack("<HHII", 1, 0x2007, len(preview), 0)
    return (
        b"II"
        + struct.pack("<I", 26)
        + b"HEAPCCDR"
        + bytes(12)
        + preview
        + record
        + struct.pack("<I", len(preview))
    )


def test_the_preview_record_of_crw_and_not_the_picture_beside_it(tmp_path: Path) -> None:
    put(tmp_path, "a.crw", crw(PREVIEW))
    put(tmp_path, "a.thm", with_exif(photo(700, 500), block()))
    row = scan(tmp_path).frames.iloc[0]
    assert list(row["files"]) == ["a.crw", "a.thm"]
    assert row["preview_file"] == "a.crw"
    assert taken(tmp_path / "a.crw") == PREVIEW
    assert row["preview_bytes"] == len(PREVIEW)


def test_a_raws_preview_serves_a_frame_whose_jpeg_has_none(tmp_path: Path) -> None:
    put(tmp_path, "a.jpg", PICTURE)
    put(tmp_path, "a.dng", in_directory(PREVIEW))
    put(tmp_path, "b.jpg", with_preview(PICTURE.replace(b"05:10:00", b"05:20:00"), PREVIEW))
    put(tmp_path, "b.dng", in_directory(PREVIEW).replace(b"05:10:00", b"05:20:00"))
    frames = scan(tmp_path).frames
    assert list(frames["preview_file"]) == ["a.dng", "b.jpg"]
    assert frames["preview_offset"].notna().all()
    assert str(frames["preview_offset"].dtype) == str(frames["head_sum"].dtype) == "Int64"
    assert frames["head_sum"].notna().all()


def test_places_outside_the_file_are_none(tmp_path: Path) -> None:
    whole_file = with_preview(PICTURE, PREVIEW)
    assert taken(put(tmp_path, "a.jpg", whole_file[:-1])) is None
    assert taken(put(tmp_path, "b.jpg", whole_file[: len(PICTURE)])) is None
    assert taken(put(tmp_path, "c.dng", in_directory(PREVIEW, x117=0xFFFFFFFF))) is None
    assert taken(put(tmp_path, "d.dng", in_directory(PREVIEW, x117=0))) is None


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    changes=st.lists(st.tuples(st.integers(0, 700), st.integers(0, 255)), max_size=6), cut=st.integers(0, 900)
)
def test_damage_never_raises(tmp_path: Path, changes: list[tuple[int, int]], cut: int) -> None:
    for name, content in (
        ("a.jpg", mpf([(0x010001, PREVIEW)])),
        ("a.dng", in_directory(PREVIEW)),
        ("a.crw", crw(PREVIEW)),
    ):
        damaged = bytearray(content)
        for place, value in changes:
            damaged[place % len(damaged)] = value
        path = put(tmp_path, name, bytes(damaged[: len(damaged) - cut]))
        with Source(path) as source:
            preview = find_blocks(source, name[-3:]).preview
            assert preview is None or preview.offset + preview.length <= source.size


def test_endless_lists_are_cut(tmp_path: Path) -> None:
    rows = struct.pack("<3I2H", 0x010001, len(PREVIEW), 60, 0, 0) * 4000
    table = struct.pack("<HHHIII", 1, 0xB002, 7, 0xFFFFFFFF, 26, 0)
    index = segment(0xE2, b"MPF\0II" + struct.pack("<HI", 42, 8) + table + rows)
    long_chain = b"\xff\xd8" + segment(0xE9, b"") * 100_000
    sub = {0x14A: whole(*[200] * 16), 0x201: whole(8), 0x202: whole(60)}
    start = time.process_time()
    for name, content in {
        "a.jpg": PICTURE[:2] + index + PICTURE[2:] + PREVIEW,
        "b.dng": in_directory(long_chain),
        "c.dng": tiff(FIRST | sub, EXIF, sub=FIRST | sub),
        "d.rw2": tiff({0x2E: raw(long_chain)}, magic=0x55),
        "e.jpg": jpeg(block(), before=index * 500),
    }.items():
        read_file(put(tmp_path, name, content))
    assert time.process_time() - start < 5


def test_hostile_files_hold_no_preview(hostile: Path) -> None:
    for path in sorted(hostile.iterdir()):
        start = time.process_time()
        with Source(path) as source:
            assert find_blocks(source, "jpg").preview is None, path.name
        assert time.process_time() - start < 1, path.name


REAL = {
    # file: size of the preview, or None; the others' are cut down to 8 x 8 or 160 x 120 in these samples
    "raw_crw_CC0/CRW_0101.CRW": (640, 480),
    "raw_crw_CC0/CRW_0117.CRW": (640, 480),
    "raw_crw_CC0/CRW_0304.CRW": (640, 480),
    "formats/testdata_canon-r6.cr3": (1620, 1080),
    "formats/t_images_CanonRaw.cr2": None,
    "formats/t_images_FujiFilm.raf": None,
    "formats/t_images_Panasonic.rw2": None,
    "formats/rw2_Issue_419.rw2": None,
    "formats/heic_IMG_2927.HEIC": None,
}


@pytest.mark.parametrize("name", REAL)
def test_previews_of_real_files(photos: Path, name: str) -> None:
    data = taken(photos / name)
    if REAL[name] is None:
        assert data is None
    else:
        assert data is not None
        with Image.open(io.BytesIO(data)) as picture:
            assert picture.size == REAL[name]
            picture.load()


@pytest.mark.parametrize("name", [name for name, size in REAL.items() if "CRW" in name])
def test_previews_of_real_raws_against_a_raw_library(photos: Path, name: str) -> None:
    rawpy = pytest.importorskip("rawpy", reason="the raw library is not installed")
    with rawpy.imread(str(photos / name)) as opened:
        theirs = opened.extract_thumb()
    ours = taken(photos / name)
    assert ours is not None
    # The library puts an EXIF segment of its own before the picture; the picture is the same, bit by bit.
    assert theirs.data.endswith(ours[2:])


def test_camera_jpegs_of_the_samples_hold_none(photos: Path) -> None:
    found = [
        p.name for p in sorted((photos / "snaps_metadata-extractor_free").iterdir()) if taken(p) is not None
    ]
    assert found == []
