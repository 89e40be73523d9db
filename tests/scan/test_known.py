"""What is kept of files between runs changes no row, and a file that changed is read."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from camera_files import block, jpeg, ratio, text
from spoiling import WAYS, spoilt

from audit import scan as scanning
from audit.cli.entry import run
from audit.scan import known, reading, scan
from audit.scan.reader import read_file

FILES = 5


def exif(number: int, **more: Any) -> bytes:
    return jpeg(block(**more)).ljust(70_000, b"\0") + bytes([number])


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    folder = tmp_path / "dump"
    (folder / "100A").mkdir(parents=True)
    for number in range(FILES):
        (folder / "100A" / f"IMG_{number:04}.JPG").write_bytes(exif(number))
    return folder


@pytest.fixture
def cache(tmp_path: Path) -> Path:
    return tmp_path / "cache" / "pixels.sqlite"


@pytest.fixture
def read(monkeypatch) -> list[str]:
    """Names of the files that were read."""
    names: list[str] = []
    real = reading.rows
    monkeypatch.setattr(reading, "rows", lambda paths: names.extend(p.name for p in paths) or real(paths))
    return names


def rows(dump: Path, cache: Path | None) -> pd.DataFrame:
    return scan(dump, cache=cache).frames


def test_what_is_known_is_not_read_again(dump, cache, read):
    plain = rows(dump, None)
    first = rows(dump, cache)
    assert len(read) == 2 * FILES
    pd.testing.assert_frame_equal(first, plain)
    pd.testing.assert_frame_equal(rows(dump, cache), plain)
    assert len(read) == 2 * FILES
    if os.name == "posix":
        assert (cache.parent.stat().st_mode & 0o777) == 0o700


def test_a_card_mounted_elsewhere_is_known(dump, cache, read, tmp_path):
    plain = rows(dump, cache)
    read.clear()
    shutil.copytree(dump, tmp_path / "elsewhere")
    pd.testing.assert_frame_equal(rows(tmp_path / "elsewhere", cache), plain)
    assert read == []
    (tmp_path / "elsewhere" / "100A").rename(tmp_path / "elsewhere" / "200A")
    rows(tmp_path / "elsewhere", cache)
    assert len(read) == FILES  # another path below the dump is another file


def test_a_changed_file_is_read_whatever_its_size_and_time_say(dump, cache, read):
    rows(dump, cache)
    file = dump / "100A" / "IMG_0002.JPG"
    times = file.stat()
    changed = exif(2).replace(b"Brattholm", b"Blattholm")
    assert len(changed) == times.st_size
    file.write_bytes(changed)
    os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))
    later = dump / "100A" / "IMG_0003.JPG"
    os.utime(later, ns=(times.st_atime_ns, later.stat().st_mtime_ns + 1))
    read.clear()
    after = rows(dump, cache)
    assert read == ["IMG_0002.JPG", "IMG_0003.JPG"]
    pd.testing.assert_frame_equal(after, rows(dump, None))
    assert "Blattholm Tarn" in set(after["model"])
    read.clear()
    rows(dump, cache)
    assert read == []


def test_another_reader_reads_anew(dump, cache, read, monkeypatch):
    rows(dump, cache)
    read.clear()
    monkeypatch.setattr(known, "program", lambda *rooms: "another")
    rows(dump, cache)
    assert len(read) == FILES


def test_no_position_is_written_and_no_fault_is_kept(dump, cache, read):
    place = {
        1: text("N"),
        2: ratio((61, 1), (30, 1), (0, 1)),
        3: text("E"),
        4: ratio((5, 1), (12, 1), (0, 1)),
    }
    (dump / "100A" / "IMG_0001.JPG").write_bytes(exif(1, gps=place))
    (dump / "100A" / "IMG_0002.JPG").write_bytes(exif(2)[:60])
    plain = rows(dump, cache)
    assert plain["gps_present"].tolist().count(True) == 1 and plain["problem"].notna().sum() == 1
    read.clear()
    pd.testing.assert_frame_equal(rows(dump, cache), plain)
    assert sorted(set(read)) == ["IMG_0001.JPG", "IMG_0002.JPG"]
    assert plain["latitude_deg"].notna().sum() == 1
    assert b"61.5" not in cache.with_name("headers.sqlite").read_bytes()


@pytest.mark.parametrize("how", WAYS)
def test_a_file_that_cannot_be_used_changes_nothing_and_is_told(dump, cache, how, monkeypatch):
    monkeypatch.setattr("audit.disk.kept.WAIT_S", 0.05)
    plain, file = rows(dump, cache), cache.with_name("headers.sqlite")
    with spoilt(file, how) as before:
        found = scan(dump, cache=cache)
    pd.testing.assert_frame_equal(found.frames, plain)
    assert "headers.sqlite: " in found.unkept
    assert not file.is_file() or file.read_bytes() == before


def test_two_at_a_time(dump, cache, read):
    entries = scanning.walked(dump)
    both = [known.KnownRows(dump, cache) for _ in range(2)]
    for one in both:
        assert len(list(one.rows(entries, lambda paths: map(read_file, paths)))) == FILES
    for one in both:
        one.close()
        assert one.fault == ""
    rows(dump, cache)
    assert read == []


def test_the_command_says_one_line_and_goes_on(dump, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "home"))
    folder = tmp_path / "home" / "cornerstop"
    audit = ["audit", str(dump), "--pixels", "off", "--out", str(tmp_path / "out"), "--quiet"]
    assert run([*audit, "--no-cache"]) == run(audit)
    assert not (folder / "pixels.sqlite").exists() and (folder / "headers.sqlite").exists()
    assert "kept" not in capsys.readouterr().err
    (folder / "headers.sqlite").write_bytes(b"mine")
    run(audit)
    said = [line for line in capsys.readouterr().err.splitlines() if "kept" in line]
    assert len(said) == 1 and "headers.sqlite: not as cornerstop writes it" in said[0]
    assert (folder / "headers.sqlite").read_bytes() == b"mine"
