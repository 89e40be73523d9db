from __future__ import annotations

import os
import subprocess
from pathlib import Path
from typing import Any

import pytest
from camera_files import block, jpeg, put
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.errors import AuditError
from audit.scan import scan
from audit.scan.folder import OUTPUT_MARKER
from audit.table.columns import SCAN

JPEG = jpeg(block())


def reasons(found) -> dict[str, str]:
    return dict(zip(found.passed_over["path"], found.passed_over["reason"], strict=True))


def counts_add_up(found) -> bool:
    return sum(len(files) for files in found.frames["files"]) + len(found.passed_over) == found.files_seen


def test_a_dump_as_cards_really_are(dump: Path) -> None:
    put(dump, "A/DCIM/100BRAT/TARN0101.JPG", JPEG)
    put(dump, "A/DCIM/100BRAT/._TARN0101.JPG", b"\0\5\x16\7")
    put(dump, "A/DCIM/100BRAT/TARN0101.xmp", b"<x/>")
    put(dump, "A/DCIM/100BRAT/TARN0102.MOV", b"")
    put(dump, "A/MISC/AUTPRINT.MRK", b"")
    put(dump, "A/MISC/deep/TARN0001.JPG", JPEG)
    put(dump, "A/DCIM/Thumbs.db", b"")
    put(dump, ".DS_Store", b"")
    put(dump, ".Trashes/501/TARN0001.JPG", JPEG)
    put(dump, "kit.toml", b"")
    put(dump, "A/filters.toml", b"")
    put(dump, "2026-05-02/keep.txt", b"")
    put(dump, "2026-05-02/notes.txt", b"")
    put(dump, "2026-05-02/CLIP.THM", JPEG)
    found = scan(dump)
    assert list(found.frames["frame"]) == ["A/DCIM/100BRAT/TARN0101"]
    assert found.files_seen == 14
    assert counts_add_up(found)
    assert reasons(found) == {
        ".DS_Store": "thumbnail or folder database",
        "kit.toml": "read as kit or declaration",
        ".Trashes/501/TARN0001.JPG": "inside the hidden folder .Trashes",
        "2026-05-02/CLIP.THM": "sidecar, left alone",
        "2026-05-02/keep.txt": "read as kit or declaration",
        "2026-05-02/notes.txt": "not a picture, by its ending",
        "A/filters.toml": "read as kit or declaration",
        "A/DCIM/Thumbs.db": "thumbnail or folder database",
        "A/DCIM/100BRAT/._TARN0101.JPG": "shadow file of another system",
        "A/DCIM/100BRAT/TARN0101.xmp": "sidecar, left alone",
        "A/DCIM/100BRAT/TARN0102.MOV": "video",
        "A/MISC/AUTPRINT.MRK": "inside MISC: housekeeping of a camera or system",
        "A/MISC/deep/TARN0001.JPG": "inside MISC: housekeeping of a camera or system",
    }


def test_columns_and_types_are_those_of_the_schema(dump: Path) -> None:
    empty = scan(dump).frames
    put(dump, "TARN0101.JPG", JPEG)
    frames = scan(dump).frames
    assert list(frames.columns) == list(empty.columns) == [column.name for column in SCAN]
    kinds = {
        "text": "str",
        "words": "object",
        "real": "float64",
        "whole": "Int64",
        "flag": "boolean",
        "time": "datetime64[us]",
        "texts": "object",
        "bytes": "object",
    }
    for column in SCAN:
        assert str(frames[column.name].dtype) == str(empty[column.name].dtype) == kinds[column.kind.name]
    assert len(empty) == 0


@pytest.mark.parametrize("name", ["a.jpg", "a.JPG", "a.JpEg", "a.Dng", "a.HIF", "a.heic", "a.CR3", "a.x3f"])
def test_endings_are_read_in_any_case(dump: Path, name: str) -> None:
    put(dump, name, JPEG)
    assert scan(dump).frames["files"].tolist() == [[name]]


def test_links_are_listed_and_never_followed(dump: Path, tmp_path: Path) -> None:
    outside = put(tmp_path, "outside/TARN0001.JPG", JPEG)
    (dump / "link.JPG").symlink_to(outside)
    (dump / "loop").symlink_to(dump, target_is_directory=True)
    (dump / "broken").symlink_to(dump / "nothing")
    found = scan(dump)
    assert len(found.frames) == 0
    assert set(reasons(found)) == {"link.JPG", "loop", "broken"}
    assert set(reasons(found).values()) == {"symbolic link, not followed"}
    assert found.files_seen == 3


def test_a_pipe_is_not_opened(dump: Path) -> None:
    os.mkfifo(dump / "TARN0001.JPG")
    assert reasons(scan(dump)) == {"TARN0001.JPG": "neither a file nor a folder"}


def test_names_that_are_not_utf8_or_act_on_a_terminal(dump: Path) -> None:
    (dump / os.fsdecode(b"f\xf8lge_0007.JPG")).write_bytes(JPEG)
    put(dump, "a\x1b[31m\n_0008.JPG", jpeg(block(time="2026:05:02 05:11:00")))
    put(dump, "Skårvåg_0009.JPG", jpeg(block(time="2026:05:02 05:12:00")))
    found = scan(dump).frames
    assert list(found["frame"]) == ["Skårvåg_0009", "a\\x1b[31m\\n_0008", "f\\xf8lge_0007"]
    assert list(found["counter"]) == [9, 8, 7]
    assert found["model"].notna().all()


def test_own_output_is_neither_walked_nor_counted(dump: Path) -> None:
    put(dump, "TARN0001.JPG", JPEG)
    put(dump, "report/thumb.JPG", JPEG)
    put(dump, "older report/thumb.JPG", JPEG)
    put(dump, f"older report/{OUTPUT_MARKER}")
    (dump / "other way").symlink_to(dump / "report", target_is_directory=True)
    found = scan(dump, skip=[dump / "other way"])
    assert list(found.frames["frame"]) == ["TARN0001"]
    assert found.files_seen == 3  # the picture, the link, and what somebody put into a report
    assert "older report/thumb.JPG" in list(found.passed_over["path"])


def test_order_is_that_of_the_names_bytes_with_files_before_folders(dump: Path) -> None:
    for minute, name in enumerate(["b/2.JPG", "b.JPG", "a/1.JPG", "B.JPG", "a/c/3.JPG", "é.JPG"]):
        put(dump, name, jpeg(block(time=f"2026:05:02 05:{minute:02}:00")))
    assert list(scan(dump).frames["frame"]) == ["B", "b", "é", "a/1", "a/c/3", "b/2"]


def test_a_folder_that_cannot_be_listed_is_named(dump: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(dump, "closed/TARN0001.JPG", JPEG)
    put(dump, "open/TARN0002.JPG", JPEG)
    scandir = os.scandir

    def refuse(folder: Path) -> Any:
        if folder.name == "closed":
            raise PermissionError(13, "Permission denied")
        return scandir(folder)

    monkeypatch.setattr(os, "scandir", refuse)
    found = scan(dump)
    assert reasons(found) == {"closed": "folder that cannot be listed: Permission denied"}
    assert list(found.frames["frame"]) == ["open/TARN0002"]
    assert counts_add_up(found)


def test_a_very_deep_tree(dump: Path) -> None:
    here = os.open(dump, os.O_RDONLY)
    for _ in range(1200):  # deeper than Python's stack
        os.mkdir("d", dir_fd=here)
        below = os.open("d", os.O_RDONLY, dir_fd=here)
        os.close(here)
        here = below
    os.close(here)
    try:
        assert scan(dump).files_seen == 0
    finally:
        subprocess.run(["rm", "-rf", str(dump)], check=True)  # pytest's own removal is recursive


def test_what_is_not_a_folder(dump: Path) -> None:
    with pytest.raises(AuditError, match="no such folder"):
        scan(dump / "missing")
    with pytest.raises(AuditError, match="no such folder"):
        scan(put(dump, "TARN0001.JPG", JPEG))


def test_nothing_in_the_tree_changes(dump: Path) -> None:
    put(dump, "A/TARN0001.JPG", JPEG)
    put(dump, "A/TARN0001.CR3", b"damaged")
    put(dump, "kit.toml", b"[[body]]")
    for path in (dump / "A", dump):
        path.chmod(0o555)

    def state() -> list[tuple[str, int, int, int]]:
        paths = sorted([dump, *dump.rglob("*")])
        return [(str(p), p.stat().st_mtime_ns, p.stat().st_size, p.stat().st_mode) for p in paths]

    before = state()
    scan(dump)
    assert state() == before
    for path in (dump, dump / "A"):
        path.chmod(0o755)


def test_progress_counts_pictures(dump: Path) -> None:
    for name in ("TARN0001.JPG", "TARN0002.JPG", "notes.txt"):
        put(dump, name, JPEG)
    seen: list[tuple[int, int]] = []
    scan(dump, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(1, 2), (2, 2)]


FOLDERS = ["", "A/", "B/", "MISC/", "A/100BRAT/", ".hid/"]
STEMS = ["TARN0001", "tarn0001", "TARN0002", "X (1)", "._TARN0001", "plain"]
ENDINGS = [".JPG", ".jpg", ".CR3", ".CRW", ".THM", ".DNG", ".xmp", ".txt", ""]
CONTENT = {
    "same": JPEG,
    "other body": jpeg(block(serial="77")),
    "later": jpeg(block(time="2026:05:02 06:00:00")),
    "no exif": jpeg(None),
    "empty": b"",
}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    files=st.lists(
        st.tuples(
            st.sampled_from(FOLDERS),
            st.sampled_from(STEMS),
            st.sampled_from(ENDINGS),
            st.sampled_from(sorted(CONTENT)),
        ),
        max_size=12,
    )
)
def test_each_file_is_in_one_row_or_passed_over(tmp_path_factory: pytest.TempPathFactory, files) -> None:
    dump = tmp_path_factory.mktemp("dump")
    for folder, stem, ending, content in files:
        put(dump, folder + stem + ending, CONTENT[content])
    on_disk = sorted(p.relative_to(dump).as_posix() for p in dump.rglob("*") if p.is_file())
    found = scan(dump)
    listed = [name for names in found.frames["files"] for name in names]
    assert sorted(listed + list(found.passed_over["path"])) == on_disk
    assert found.files_seen == len(on_disk)
    assert found.frames["frame"].is_unique
    for row in found.frames.itertuples():
        assert set(row.copies) < set(row.files)


def test_a_name_that_is_no_utf8_is_told_and_said(dump):
    put(dump, os.fsdecode(b"caf\xe9.JPG"), jpeg(block()))
    put(dump, "caf\\xe9 2.JPG", jpeg(block()))  # this one is called so
    found = scan(dump).frames.set_index("frame")["notes"]
    assert found[r"caf\xe9"] == ["its path is not UTF-8: the bytes that are not are told in hexadecimal"]
    assert found[r"caf\xe9 2"] == []
