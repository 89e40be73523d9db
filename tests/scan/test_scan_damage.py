from __future__ import annotations

import io
import logging
import signal
import struct
import threading
import time
from pathlib import Path

import pytest
from camera_files import THUMBNAIL, block, box, camera, cr3, crw, heif, jpeg, put, raf, ratio, rw2, tiff
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.scan import containers, reader, scan
from audit.scan.containers import boxes
from audit.scan.containers import heif as heif_module
from audit.scan.containers.source import READ_LIMIT, Source
from audit.scan.reader import read_file

FIRST, EXIF = camera()
WHOLE = tiff(FIRST, EXIF, {2: ratio((1, 1))}, THUMBNAIL)
FILES = {
    "a.jpg": jpeg(block(thumbnail=THUMBNAIL)),
    "a.tif": WHOLE,
    "a.nef": tiff(FIRST, EXIF, sub=FIRST, order=">"),
    "a.cr3": cr3(tiff(FIRST), tiff(EXIF), tiff({2: ratio((1, 1))}), THUMBNAIL),
    "a.raf": raf(jpeg(block())),
    "a.rw2": rw2(jpeg(block()), (0, 0, 10, 10)),
    "a.heic": heif(block()),
    "a.crw": crw(),
}


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(sorted(FILES)),
    cut=st.one_of(st.none(), st.integers(0, 800)),
    changes=st.lists(st.tuples(st.integers(0, 800), st.integers(0, 255)), max_size=6),
)
def test_damage_never_raises(
    tmp_path: Path, name: str, cut: int | None, changes: list[tuple[int, int]]
) -> None:
    content = bytearray(FILES[name])
    for place, value in changes:
        content[place % len(content)] = value
    row = read_file(put(tmp_path, name, bytes(content[:cut])))
    told = any(row.get(key) is not None for key in ("make", "model", "captured_at", "exposure_time_s", "iso"))
    assert told or row["problem"] or row["notes"] or row.get("f_number") or row.get("focal_length_mm")


@pytest.mark.parametrize("name", sorted(FILES))
def test_every_cut_of_every_container_gives_a_row(tmp_path: Path, name: str) -> None:
    content = FILES[name]
    for cut in range(0, len(content), 7):
        row = read_file(put(tmp_path, name, content[:cut]))
        assert row["size_bytes"] == cut


@pytest.mark.parametrize("fault", [IndexError, ValueError, struct.error, ZeroDivisionError, KeyError])
def test_a_parser_that_raises_becomes_a_reason(tmp_path: Path, monkeypatch, fault: type[Exception]) -> None:
    def broken(*_args: object, **_kwargs: object) -> None:
        raise fault("inner words")

    monkeypatch.setattr(reader, "ordinary_tags", lambda _: None)
    monkeypatch.setattr(reader.exifread, "process_file", broken)
    row = read_file(put(tmp_path, "a.jpg", FILES["a.jpg"]))
    assert row["problem"] == f"the EXIF block is damaged ({fault.__name__})"
    assert row["width_px"] == 600  # what was learned before stays


def test_a_parser_that_needs_more_memory_than_there_is(tmp_path: Path, monkeypatch) -> None:
    def hungry(*_args: object, **_kwargs: object) -> None:
        raise MemoryError

    monkeypatch.setattr(reader, "ordinary_tags", lambda _: None)
    monkeypatch.setattr(reader.exifread, "process_file", hungry)
    row = read_file(put(tmp_path, "a.jpg", FILES["a.jpg"]))
    assert row["problem"] == "reading it needs more memory than one file may take (2 GiB)"
    assert row["width_px"] == 600  # what was learned before stays


def test_a_parser_that_does_not_end_is_stopped_and_the_old_handler_comes_back(
    tmp_path: Path, monkeypatch
) -> None:
    def endless(*_args: object, **_kwargs: object) -> None:
        while True:
            pass

    def mine(_signal: int, _frame: object) -> None:
        raise AssertionError("not for the scan")

    monkeypatch.setattr(reader, "ordinary_tags", lambda _: None)
    monkeypatch.setattr(reader.exifread, "process_file", endless)
    before = signal.signal(signal.SIGPROF, mine)
    try:
        row = read_file(put(tmp_path, "a.jpg", FILES["a.jpg"]), limit_s=0.1)
        assert signal.getsignal(signal.SIGPROF) is mine
        assert signal.getitimer(signal.ITIMER_PROF) == (0.0, 0.0)
    finally:
        signal.signal(signal.SIGPROF, before)
    assert row["problem"] == "not read within 0.1 s of work"
    assert row["width_px"] == 600  # what was learned before stays


def test_reading_outside_the_main_thread(tmp_path: Path) -> None:
    path = put(tmp_path, "a.jpg", FILES["a.jpg"])
    rows: list[dict[str, object]] = []
    thread = threading.Thread(target=lambda: rows.append(read_file(path)))
    thread.start()
    thread.join()
    assert rows[0]["model"] == "Brattholm Tarn"


def test_a_file_that_cannot_be_opened(tmp_path: Path, monkeypatch) -> None:
    def refuse(_path: Path) -> Source:
        raise PermissionError(13, "Permission denied")

    assert (
        read_file(tmp_path / "gone.jpg")["problem"] == "the file could not be read: No such file or directory"
    )
    monkeypatch.setattr(reader, "Source", refuse)
    assert read_file(put(tmp_path, "a.jpg"))["problem"] == "the file could not be read: Permission denied"


def test_one_open_and_one_parser_call_a_block_that_is_left_to_the_parser(tmp_path: Path, monkeypatch) -> None:
    opened, parsed = [], []

    class Counted(Source):
        def __init__(self, path: Path) -> None:
            opened.append(path)
            super().__init__(path)

    process = reader.exifread.process_file
    monkeypatch.setattr(reader, "Source", Counted)
    monkeypatch.setattr(reader, "ordinary_tags", lambda _: None)
    monkeypatch.setattr(reader.exifread, "process_file", lambda *a, **k: parsed.append(k) or process(*a, **k))
    read_file(put(tmp_path, "a.jpg", FILES["a.jpg"]))
    assert (len(opened), len(parsed)) == (1, 1)
    assert parsed[0]["details"] is False
    read_file(put(tmp_path, "a.cr3", FILES["a.cr3"]))
    assert (len(opened), len(parsed)) == (2, 4)


def test_no_read_goes_past_the_limit_or_the_end(tmp_path: Path) -> None:
    with Source(put(tmp_path, "a.bin", bytes(READ_LIMIT + 500))) as source:
        assert len(source.at(0, 1 << 32)) == READ_LIMIT
        assert len(source.at(READ_LIMIT + 400, 1 << 32)) == 100
        assert source.at(READ_LIMIT + 500, 1) == source.at(-1, 5) == source.at(5, -1) == b""
        source.seek(0)
        assert len(source.read()) == READ_LIMIT


def test_boxes_that_cannot_be_right_end_the_walk(tmp_path: Path) -> None:
    cases = {
        "size 0 is the rest": (struct.pack(">I4s", 0, b"free") + bytes(20), 1),
        "size below its own head": (struct.pack(">I4s", 4, b"free") + bytes(20), 0),
        "larger than the file": (struct.pack(">I4s", 4000, b"free") + bytes(20), 0),
        "64-bit size 0": (struct.pack(">I4sQ", 1, b"free", 0) + bytes(20), 0),
        "64-bit size": (struct.pack(">I4sQ", 1, b"free", 20) + bytes(4), 1),
        "many empty ones": (box(b"free", b"") * 10_000, boxes.BOX_LIMIT),
    }
    for content, count in cases.values():
        with Source(put(tmp_path, "a.bin", content)) as source:
            assert len(list(boxes.boxes(source, 0, source.size))) == count


def test_item_locations_with_endless_counts(tmp_path: Path) -> None:
    iloc = struct.pack(">B3xBBH", 0, 0, 0, 65535) + struct.pack(">HHH", 9, 0, 65535) * 10_000
    content = heif(block()).replace(b"iloc", b"skip", 1)
    head, rest = content[:28], content[28:]
    assert head[4:8] == b"ftyp"
    size = struct.unpack(">I", rest[:4])[0]
    meta = rest[8:size] + box(b"iloc", iloc)
    start = time.process_time()
    row = read_file(put(tmp_path, "a.heic", head + box(b"meta", meta)))
    assert row["problem"] == "the file holds no EXIF"
    assert time.process_time() - start < 2
    assert heif_module.ITEM_LIMIT <= 10_000


def test_containers_are_told_by_content_alone(tmp_path: Path) -> None:
    for name, content in FILES.items():
        with Source(put(tmp_path, name, content)) as source:
            assert containers.find_blocks(source, "jpg").format != "JPG"


def test_the_parsers_own_words_never_reach_the_user(dump: Path, capfd, caplog) -> None:
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    logging.getLogger().addHandler(handler)
    try:
        for name, content in FILES.items():
            put(dump, name, content)
            put(dump, "cut_" + name, content[: len(content) // 2])
        scan(dump)
    finally:
        logging.getLogger().removeHandler(handler)
    assert capfd.readouterr() == ("", "")
    assert stream.getvalue() == ""
    assert caplog.records == []
