from __future__ import annotations

import io
import os
import sqlite3
import stat
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from sketches import same

from audit.pixels import sources
from audit.pixels.cache import Cache, default_cache, pack, unpack
from audit.pixels.sketch import LONGEST_SIDE_PX, Sketch
from audit.pixels.sources import Sketches


def made(seed: int = 1, rows: int = 213) -> Sketch:
    rng = np.random.default_rng(seed)
    return Sketch(
        grey=rng.integers(0, 256, (rows, 320), dtype=np.uint8),
        colour=rng.integers(0, 256, (rows // 4, 80, 3), dtype=np.uint8),
        clipped=rng.random((3, 3)),
        black=rng.random((3, 3)),
        source="embedded preview",
        width_px=640,
        height_px=427,
        exact=False,
    )


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    folder = tmp_path / "dump"
    folder.mkdir()
    for number in range(3):
        picture(folder / f"{number}.jpg", number)
    return folder


def picture(path: Path, seed: int) -> None:
    shades = np.random.default_rng(seed).integers(0, 256, (20, 30, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(shades).resize((600, 400)).save(out, "JPEG")
    path.write_bytes(
        out.getvalue().ljust(30_000, b"\0")
    )  # one size, so that only the content tells them apart


def row(number: int) -> dict[str, Any]:
    return {"frame": f"{number}", "files": [f"{number}.jpg"], "width_px": 600, "height_px": 400}


def all_of(dump: Path, cache: Path | None) -> list[Sketch | None]:
    with Sketches(dump, "full", cache) as pictures:
        return [pictures.of(row(number)) for number in range(3)]


@pytest.fixture
def reads(monkeypatch) -> list[str]:
    """Names of the files that were decoded."""
    names: list[str] = []
    real = sources.readers.from_picture
    monkeypatch.setattr(
        sources.readers, "from_picture", lambda file: names.append(file.path.name) or real(file)
    )
    return names


def test_the_same_with_and_without_and_no_decoding_the_second_time(dump, tmp_path, reads):
    cache = tmp_path / "deep" / "er" / "pixels.sqlite"
    without = all_of(dump, None)
    first = all_of(dump, cache)
    assert len(reads) == 6
    again = all_of(dump, cache)
    assert len(reads) == 6
    for a, b, c in zip(without, first, again, strict=True):
        assert a is not None and same(a, b) and same(a, c)
        assert c.grey.flags.writeable == a.grey.flags.writeable
    if os.name == "posix":
        assert stat.S_IMODE(cache.parent.stat().st_mode) == 0o700


def test_a_changed_file_is_read_anew(dump, tmp_path, reads):
    cache = tmp_path / "pixels.sqlite"
    before = all_of(dump, cache)
    times = (dump / "0.jpg").stat()
    picture(dump / "0.jpg", 7)
    os.utime(dump / "0.jpg", ns=(times.st_atime_ns, times.st_mtime_ns))  # only the content tells
    os.utime(dump / "1.jpg", ns=(times.st_atime_ns, times.st_mtime_ns + 1))  # only the time tells
    reads.clear()
    after = all_of(dump, cache)
    assert reads == ["0.jpg", "1.jpg"]
    assert not same(before[0], after[0]) and same(before[1], after[1])
    with (dump / "2.jpg").open("ab") as file:
        file.write(b"\0")
    os.utime(dump / "2.jpg", ns=(times.st_atime_ns, times.st_mtime_ns))
    reads.clear()
    all_of(dump, cache)
    assert reads == ["2.jpg"]


def test_another_place_shape_or_version_is_read_anew(dump, tmp_path, monkeypatch, reads):
    cache = tmp_path / "pixels.sqlite"
    all_of(dump, cache)
    reads.clear()
    with Sketches(dump, "full", cache) as pictures:
        pictures.of(row(0) | {"width_px": 601})
    assert reads == ["0.jpg"]
    reads.clear()
    monkeypatch.setattr(sources, "_READER", "another")
    all_of(dump, cache)
    assert len(reads) == 3
    size = (dump / "0.jpg").stat().st_size
    embedded = row(0) | {"preview_file": "0.jpg", "preview_offset": 0, "preview_bytes": size}
    for change, count in ({}, 1), ({}, 0), ({"preview_bytes": size - 1}, 1):
        taken: list[int] = []
        real = sources.readers.from_preview
        with monkeypatch.context() as patch, Sketches(dump, "preview", cache) as pictures:
            patch.setattr(sources.readers, "from_preview", lambda *a, t=taken, r=real: t.append(1) or r(*a))
            assert pictures.of(embedded | change) is not None
        assert len(taken) == count


def broken(path: Path, how: str) -> None:
    if how == "noise":
        path.write_bytes(np.random.default_rng(1).bytes(50_000))
    elif how == "folder":
        path.mkdir()
    elif how == "other tables":
        with sqlite3.connect(path) as file:
            file.execute("CREATE TABLE sketch (name TEXT)")
        file.close()
    elif how == "torn":
        cache = Cache(path)
        for number in range(40):
            cache.put(f"{number}", made(number))
        cache.close()
        data = path.read_bytes()
        path.write_bytes(data[: len(data) // 2])
    elif how == "below a file":
        path.parent.write_bytes(b"")


@pytest.mark.parametrize("how", ["noise", "folder", "other tables", "torn", "below a file"])
def test_a_broken_cache_changes_nothing(dump, tmp_path, how):
    cache = tmp_path / "place" / "pixels.sqlite"
    if how != "below a file":
        cache.parent.mkdir()
    broken(cache, how)
    for a, b in zip(all_of(dump, None), all_of(dump, cache), strict=True):
        assert a is not None and same(a, b)


def test_a_file_that_is_no_cache_is_left_alone(dump, tmp_path):
    photograph = tmp_path / "mine.jpg"
    picture(photograph, 3)
    before = photograph.read_bytes()
    all_of(dump, photograph)
    assert photograph.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["dump", "mine.jpg"]


def test_a_locked_cache_changes_nothing(dump, tmp_path, monkeypatch):
    cache = tmp_path / "pixels.sqlite"
    monkeypatch.setattr("audit.disk.kept.WAIT_S", 0.05)
    all_of(dump, cache)
    other = sqlite3.connect(cache, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        kept = all_of(dump, cache)
    finally:
        other.close()
    assert all(same(a, b) for a, b in zip(all_of(dump, None), kept, strict=True))


def test_two_at_a_time(tmp_path):
    one, other = Cache(tmp_path / "c"), Cache(tmp_path / "c")
    for number in range(70):
        one.put(f"one {number}", made(number))
        other.put(f"other {number}", made(number))
    one.close()
    other.close()
    reader = Cache(tmp_path / "c")
    assert all(same(reader.get(f"{name} {n}"), made(n)) for name in ("one", "other") for n in range(70))
    reader.close()


def test_a_damaged_value_is_no_value(tmp_path):
    cache = Cache(tmp_path / "c")
    cache.put("a", made())
    cache.close()
    with sqlite3.connect(tmp_path / "c") as file:
        file.execute("UPDATE sketch SET value = substr(value, 1, 900)")
    file.close()
    cache = Cache(tmp_path / "c")
    assert cache.get("a") is None
    cache.put("a", made())
    assert same(cache.get("a"), made())
    cache.close()


def test_what_was_not_used_for_longest_goes_first(tmp_path, monkeypatch):
    clock = iter(range(1000))
    monkeypatch.setattr("audit.disk.kept.time.time", lambda: 1e6 * next(clock))
    one = len(pack(made()))
    for name in "abcde":
        cache = Cache(tmp_path / "c")
        cache.put(name, made())
        cache.close()
    cache = Cache(tmp_path / "c")
    assert cache.get("a") is not None
    cache.close()
    cache = Cache(tmp_path / "c", most_bytes=4 * one)
    cache.close()
    cache = Cache(tmp_path / "c")
    assert [name for name in "abcde" if cache.get(name) is not None] == ["a", "d", "e"]
    cache.close()


def test_after_closing_nothing_is_kept_and_nothing_raised(tmp_path):
    cache = Cache(tmp_path / "c")
    cache.close()
    cache.put("a", made())
    assert cache.get("a") is None
    cache.close()


def test_what_is_forgotten_to_be_closed_is_written_all_the_same(tmp_path):
    cache = Cache(tmp_path / "c")
    cache.put("a", made())
    del cache
    assert same(Cache(tmp_path / "c").get("a"), made())


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, LONGEST_SIDE_PX),
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 255)), max_size=3),
)
def test_packed_and_back_and_damaged(rows, changes):
    sketch = made(rows, rows)
    data = bytearray(pack(sketch))
    assert same(unpack(bytes(data)), sketch)
    for place, value in changes:
        data[place % len(data)] = value
    back = unpack(bytes(data))
    assert back is None or same(back, sketch)  # its check sum tells


def test_where_the_cache_lies(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_cache() == tmp_path / "cornerstop" / "pixels.sqlite"
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    for value in ("", "not/absolute"):  # such a value is to be ignored (XDG Base Directory)
        monkeypatch.setenv("XDG_CACHE_HOME", value)
        assert default_cache() == tmp_path / "home" / ".cache" / "cornerstop" / "pixels.sqlite"
    monkeypatch.setattr(Path, "home", lambda: (_ for _ in ()).throw(RuntimeError("no home")))
    Cache(default_cache()).put("a", made())
