from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # for `camera_files`, the writer of test files beside this one

SHARED = Path(__file__).parents[2].parent / "shared"


@pytest.fixture
def dump(tmp_path: Path) -> Path:
    folder = tmp_path / "dump"
    folder.mkdir()
    return folder


def _shared(name: str) -> Path:
    folder = SHARED / name
    if not folder.is_dir():
        pytest.skip(f"real test files are not here: {folder}")
    return folder


@pytest.fixture
def photos() -> Path:
    return _shared("photos")


@pytest.fixture
def hostile() -> Path:
    return _shared("hostile")
