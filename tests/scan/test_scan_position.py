"""Positions: read into memory, written nowhere."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq
import pytest
from camera_files import block, cr3, jpeg, put, ratio, text, tiff

from audit.scan import scan
from audit.scan.reader import read_file
from audit.table.columns import BY_NAME, schema

HERE = {
    1: text("N"),
    2: ratio((61, 1), (30, 1), (3600, 100)),
    3: text("W"),
    4: ratio((7, 1), (15, 1), (0, 1)),
    7: ratio((3, 1), (10, 1), (155, 10)),
    29: text("2026:05:02"),
}
WITHHELD = ("latitude_deg", "longitude_deg", "gps_at")


@pytest.fixture
def read(tmp_path: Path):
    def read_one(gps: dict[int, Any]) -> dict[str, Any]:
        return read_file(put(tmp_path, "TARN0101.JPG", jpeg(block(gps=gps))))

    return read_one


def test_degrees_minutes_seconds_and_the_receivers_time(read) -> None:
    row = read(HERE)
    assert row["latitude_deg"] == pytest.approx(61.51)
    assert row["longitude_deg"] == pytest.approx(-7.25)
    assert row["gps_at"] == datetime(2026, 5, 2, 3, 10, 15)


def test_degrees_are_rounded_once(read) -> None:
    row = read({**HERE, 2: ratio((0, 1), (18, 1), (36, 1)), 4: ratio((137, 1), (35, 1), (100, 3))})
    assert (row["latitude_deg"], row["longitude_deg"]) == (0.31, -(137 * 10_800 + 35 * 180 + 100) / 10_800)


def test_a_split_container_tells_the_same(tmp_path: Path) -> None:
    first = {0x10F: text("Brattholm"), 0x110: text("Brattholm Tarn")}
    row = read_file(put(tmp_path, "a.cr3", cr3(tiff(first), tiff({}), tiff(HERE), b"")))
    assert row["latitude_deg"] == pytest.approx(61.51)
    assert row["longitude_deg"] == pytest.approx(-7.25)
    assert row["gps_at"] == datetime(2026, 5, 2, 3, 10, 15)


@pytest.mark.parametrize(
    "change",
    [
        {1: text("")},
        {3: text("N")},
        {2: ratio((91, 1), (0, 1), (0, 1))},
        {4: ratio((0, 0), (0, 0), (0, 0))},
        {2: ratio((0, 1), (0, 1), (0, 1)), 4: ratio((0, 1), (0, 1), (0, 1))},
        {9: text("V")},
    ],
)
def test_half_a_position_is_none(read, change) -> None:
    row = read(HERE | change)
    assert row.get("latitude_deg") is None
    assert row.get("longitude_deg") is None
    assert "91" not in str(row["notes"])


@pytest.mark.parametrize(
    "change",
    [{29: text("2026:13:02")}, {29: text("1970:01:01")}, {7: ratio((3, 1), (0, 0), (0, 1))}, {29: text("")}],
)
def test_half_a_time_is_none(read, change) -> None:
    row = read(HERE | change)
    assert row["gps_at"] is None
    assert row["latitude_deg"] == pytest.approx(61.51)


def test_no_data_file_holds_a_position(tmp_path: Path) -> None:
    from audit.report.data import parquet_bytes

    put(tmp_path, "TARN0101.JPG", jpeg(block(gps=HERE)))
    frames = scan(tmp_path).frames
    assert frames["latitude_deg"].tolist() == [pytest.approx(61.51)]
    for name in WITHHELD:
        assert BY_NAME[name].withheld
        assert name not in schema(private=True).names
    columns = {name: None for name in BY_NAME if name not in frames}
    (tmp_path / "all.parquet").write_bytes(parquet_bytes(frames.assign(**columns), serials=True))
    assert not set(WITHHELD) & set(pq.read_schema(tmp_path / "all.parquet").names)
