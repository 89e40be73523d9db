"""Larger views kept between runs: the same as those made anew, and none of a file that changed."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from audit.pictures import kept, seen_data
from audit.pictures.asking import ahead
from audit.pictures.kept import Views
from audit.pictures.originals import Seen, seen


def picture(path: Path, seed: int) -> None:
    shades = np.random.default_rng(seed).integers(0, 256, (40, 60, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(shades).resize((1800, 1200)).save(out, "JPEG")
    path.write_bytes(out.getvalue().ljust(400_000, b"\0"))


ROW: dict[str, Any] = {
    "frame": "a",
    "files": ["a.jpg"],
    "width_px": 1800,
    "height_px": 1200,
    "orientation": 6,
}


@pytest.fixture
def made(monkeypatch) -> list[bool]:
    calls: list[bool] = []
    monkeypatch.setattr(kept, "ahead", lambda *a, full: calls.append(full) or ahead(*a, full=full))
    return calls


def of(views: Views, row: dict[str, Any], *, full: bool) -> Seen:
    return next(views.each([(row, full)]))


def test_kept_views_are_those_made_anew(tmp_path, made):
    picture(tmp_path / "a.jpg", 1)
    cache, times = tmp_path / "cache" / "pixels.sqlite", (tmp_path / "a.jpg").stat()
    for full in (True, False):
        plain = seen(tmp_path, ROW, full=full)
        for _ in range(2):
            views = Views(tmp_path, cache)
            assert of(views, ROW, full=full) == plain and plain.larger is not None
            views.close()
    assert made == [True, False]
    picture(tmp_path / "a.jpg", 2)
    os.utime(tmp_path / "a.jpg", ns=(times.st_atime_ns, times.st_mtime_ns))
    views = Views(tmp_path, cache)
    assert of(views, ROW, full=True) == seen(tmp_path, ROW, full=True) != seen(tmp_path, ROW)
    of(views, ROW | {"orientation": 1}, full=True)
    views.close()
    assert made == [True, False, True, True]


def test_what_went_wrong_is_tried_again(tmp_path, made):
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8\xff")
    views = Views(tmp_path, tmp_path / "pixels.sqlite")
    assert of(views, ROW, full=True) == of(views, ROW, full=True) == seen(tmp_path, ROW, full=True)
    assert of(views, ROW | {"files": ["missing.jpg"]}, full=False).why
    assert len(made) == 3
    views.close()


def test_other_bytes_are_no_view():
    assert all(
        seen_data.unpacked(len(head).to_bytes(4, "big") + head) is None
        for head in (
            b"",
            b"null",
            b'{"pictures": []}',
            b'{"pictures": [[1, 2]], "file": "", "full_px": [1, 1]}',
        )
    )
