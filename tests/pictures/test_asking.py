"""Larger views by workers are those made here, and a decoder that ends its process ends nobody else's."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from audit.crew.crew import Crew
from audit.disk.dumps import Dumps
from audit.pictures.asking import asked
from audit.pictures.kept import Views
from audit.pictures.originals import seen


def row(name: str) -> dict[str, Any]:
    size = {"width_px": np.int64(900), "height_px": 600, "preview_offset": float("nan")}
    return {"frame": name, "files": [name], "orientation": 6, **size}


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    rng = np.random.default_rng(1)
    for number in range(4):
        codes = rng.integers(0, 255, (600, 900, 3)).astype(np.uint8)
        Image.fromarray(codes).save(tmp_path / f"{number}.jpg")
    (tmp_path / "broken.jpg").write_bytes((tmp_path / "0.jpg").read_bytes()[:300])
    return tmp_path


@pytest.mark.parametrize("full", [True, False])
def test_workers_make_what_is_made_here(dump: Path, full: bool) -> None:
    for place in (dump, Dumps({"a": dump})):
        start = "" if place is dump else "a/"
        for name in ("0.jpg", "broken.jpg", "missing.jpg"):
            here = seen(place, row(start + name), full=full)
            with Crew(1):
                assert asked(place, row(start + name), full=full) == here


def test_in_their_order_by_any_number_of_workers(dump: Path) -> None:
    names = ["2.jpg", "0.jpg", "broken.jpg", "3.jpg", "1.jpg"]
    expected = [seen(dump, row(name)) for name in names]
    for workers in (0, 1, 2):
        with Crew(workers):
            assert list(Views(dump, None).each((row(name), False) for name in names)) == expected


def test_a_picture_that_takes_too_long_has_a_reason(dump: Path) -> None:
    with Crew(1, limit_s=0.001):
        assert "not decoded within 0.001 s of work" in asked(dump, row("0.jpg"), full=False).why
