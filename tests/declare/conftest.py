"""Frame tables by hand with the columns a scan gives, and declarations read with the test kit."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

import pandas as pd
import pytest

from audit.declare import load
from audit.declare.worn import Declaration
from audit.kit.kit import Kit
from audit.table.columns import SCAN

USUAL: dict[str, Any] = {
    "formats": "JPEG",
    "make": "Brattholm",
    "model": "Brattholm Tarn",
    "lens": "Sund 16-35 mm f4",
    "exposure_time_s": 0.01,
    "exposure_time_exact_s": 2.0 ** (-20 / 3),
    "f_number": 8.0,
    "f_number_exact": 8.0,
    "iso": 100.0,
    "focal_length_mm": 24.0,
    "width_px": 6000,
    "height_px": 4000,
}


def build(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """A scanned table; each row names `frame` ("day1/TARN0101") and what differs from the usual."""
    full = [_row(row) for row in rows]
    return pd.DataFrame({c.name: c.kind.series(row.get(c.name) for row in full) for c in SCAN})


def _row(row: Mapping[str, Any]) -> dict[str, Any]:
    path = PurePosixPath(row["frame"])
    digits = "".join(c for c in path.name[-4:] if c.isdigit())
    given = {
        "folder": str(path.parent),
        "files": [f"{path}.JPG"],
        "copies": [],
        "notes": [],
        "counter": int(digits) if digits else None,
    }
    return {**USUAL, **given, **row}


def rows_of(
    folder: str, first: int, last: int, start: str, step_s: float = 60, **values: Any
) -> list[dict[str, Any]]:
    """Rows TARNfirst to TARNlast (wrapping after 9999), `step_s` apart from `start`."""
    prefix = values.pop("prefix", "TARN")
    count = (last - first) % 9999 + 1
    times = pd.date_range(start, periods=count, freq=pd.Timedelta(seconds=step_s))
    numbers = [(first - 1 + i) % 9999 + 1 for i in range(count)]
    stem = "" if folder == "." else f"{folder}/"
    return [
        {"frame": f"{stem}{prefix}{n:04d}", "captured_at": t, **values}
        for n, t in zip(numbers, times, strict=True)
    ]


@pytest.fixture(scope="session")
def scanned() -> Callable[[Sequence[Mapping[str, Any]]], pd.DataFrame]:
    """A scanned table; each row names `frame` ("day1/TARN0101") and what differs from the usual."""
    return build


@pytest.fixture(scope="session")
def run() -> Callable[..., list[dict[str, Any]]]:
    """Rows TARNfirst to TARNlast (wrapping after 9999), `step_s` apart from `start`."""
    return rows_of


KIT = Path(__file__).parents[2] / "fixtures" / "kit.toml"


@pytest.fixture(scope="session")
def kit() -> Kit:
    return load(None, KIT).kit


@pytest.fixture
def declare(tmp_path: Path) -> Callable[[dict[str, str]], list[Declaration]]:
    """Writes declarations by folder and reads them with the test kit."""

    def write(texts: dict[str, str]) -> list[Declaration]:
        for folder, text in texts.items():
            (tmp_path / folder).mkdir(parents=True, exist_ok=True)
            (tmp_path / folder / "filters.toml").write_text(textwrap.dedent(text), encoding="utf-8")
        return load(tmp_path, KIT).declarations

    return write
