"""Clocks that are far off, at the ends of what can be written, and at the seams of the calendar."""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from camera_files import block, jpeg, put, ratio, text
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.cli.entry import run
from audit.demo.kit_file import KIT
from audit.exposure.clocks import apart
from audit.exposure.sun import sun_altitude, utc_moments
from audit.kit.clocks import set_right
from audit.kit.kit import Kit
from audit.scan.reader import read_file

NO_TIME = [
    *("1900:01:01 00:00:00", "1969:12:31 23:59:59", "1970:01:01 00:00:00", "2106:02:07 06:28:16"),
    *("9999:12:31 23:59:59", "0000:00:00 00:00:00", "0000:01:01 00:00:00", "2026:02:30 10:00:00"),
    *("2016:12:31 24:00:00", "2016:12:31 23:59:61", "99999:01:01 00:00:00", "2026:05:02 -1:00:00"),
]
"""Before cameras wrote EXIF, after this century, or no time at all."""
A_TIME = {
    "2038:01:19 03:14:08": datetime(2038, 1, 19, 3, 14, 8),
    "2099:12:31 23:59:59": datetime(2099, 12, 31, 23, 59, 59),
    "2016:12:31 23:59:60": datetime(2016, 12, 31, 23, 59, 59),
    "2024:02:29 12:00:00": datetime(2024, 2, 29, 12),
    "2026:03:29 02:30:00": datetime(2026, 3, 29, 2, 30),
    "2026:10:25 02:30:00": datetime(2026, 10, 25, 2, 30),
}
"""The last two are an hour that a summer time leaves out, and one that it has twice."""
ZONES = {"+14:00": 840, "-12:00": -720, "+05:45": 345, "Z": 0, "-00:00": 0}
NO_ZONES = ["+14:15", "-12:15", "-14:00", "+99:99", "+02:60", "02:00", "+2", "\u0662\u0663:\u0660\u0660"]


@pytest.mark.parametrize("written", NO_TIME)
def test_a_time_that_cannot_be_is_none_and_is_told(tmp_path, written):
    row = read_file(put(tmp_path, "TARN0001.JPG", jpeg(block(time=written))))
    assert row["problem"] is None and row.get("captured_at") is None
    assert any("time of capture" in note for note in row["notes"])


@pytest.mark.parametrize("written", A_TIME)
@pytest.mark.parametrize("zone", [*ZONES, *NO_ZONES])
def test_a_time_is_as_the_clock_showed_it_whatever_the_zone(tmp_path, written, zone):
    row = read_file(put(tmp_path, "TARN0001.JPG", jpeg(block(time=written, offset=zone))))
    assert row["captured_at"] == A_TIME[written]
    assert row["utc_offset_min"] == ZONES.get(zone)
    assert any("offset" in note for note in row["notes"]) == (zone in NO_ZONES)


@pytest.mark.parametrize(
    ("day", "time", "told"),
    [
        ("2026:05:02", (23, 59, 60), datetime(2026, 5, 3)),
        ("2026:05:02", (24, 0, 0), None),
        ("2026:05:02", (60, 60, 60), None),
        ("2026:05:02", (0, 60, 0), None),
        ("2026:12:31", (23, 59, 59), datetime(2026, 12, 31, 23, 59, 59)),
        ("9999:12:31", (23, 59, 60), None),
        ("0000:00:00", (0, 0, 0), None),
    ],
)
def test_a_receivers_time_is_one_of_a_day_or_none(tmp_path, day, time, told):
    gps = {0x1D: text(day), 7: ratio(*((part, 1) for part in time))}
    assert read_file(put(tmp_path, "TARN0001.JPG", jpeg(block(gps=gps)))).get("gps_at") == told


def frames_of(local: list[datetime], gps: list[datetime | None], body: str = "A") -> pd.DataFrame:
    return pd.DataFrame(
        {
            "captured_at": pd.Series(local, dtype="datetime64[us]"),
            "gps_at": pd.Series(gps, dtype="datetime64[us]"),
            "utc_offset_min": pd.Series([None] * len(local), dtype="Int64"),
            "body": body,
        }
    )


HALF_HOURS = st.integers(-24, 28).map(lambda n: timedelta(minutes=30 * n))
MOMENTS = st.datetimes(datetime(1990, 1, 2), datetime(2100, 12, 30))


@given(MOMENTS, HALF_HOURS, st.integers(-100, 500))
def test_the_receiver_tells_the_zone_over_the_date_line_too(utc, zone, age_s):
    local = (utc + zone).replace(microsecond=0)
    gps = utc.replace(microsecond=0) - timedelta(seconds=age_s)
    found, words, why = utc_moments(frames_of([local], [gps]), Kit())
    assert words[0] and not why[0]
    assert found[0] == utc.replace(microsecond=0)


@given(MOMENTS, st.timedeltas(timedelta(hours=15), timedelta(days=40_000)), st.booleans())
def test_a_clock_that_no_zone_explains_tells_no_utc(utc, off, early):
    local = pd.Timestamp(utc) - pd.Timedelta(off) if early else pd.Timestamp(utc) + pd.Timedelta(off)
    found, words, why = utc_moments(frames_of([local.to_pydatetime()], [utc]), Kit())
    assert not words[0] and why[0] and found.isna().all()


@settings(max_examples=60)
@given(
    st.lists(st.one_of(st.none(), MOMENTS), min_size=1, max_size=6),
    st.floats(-90, 90),
    st.floats(-180, 180),
)
def test_the_sun_has_a_height_at_any_time_and_place(times, north, east):
    utc = pd.Series(pd.to_datetime(times), dtype="datetime64[us]")
    altitude, rate = sun_altitude(utc, np.full(len(utc), north), np.full(len(utc), east))
    timed = utc.notna().to_numpy()
    assert np.isnan(altitude[~timed]).all()
    assert (np.abs(altitude[timed]) <= 90.01).all() and (np.abs(rate[timed]) <= 0.2501).all()


@settings(max_examples=40)
@given(st.lists(MOMENTS, min_size=5, max_size=12), st.lists(MOMENTS, min_size=5, max_size=12))
def test_two_clocks_are_compared_whatever_they_show(one, other):
    parts = []
    for body, times in (("A", one), ("B", other)):
        part = frames_of(times, [None] * len(times), body)
        parts.append(part.assign(ev100=12.0, even_stops_min=0.0, exposure_time_s=0.01, setup=f"{body}1"))
    for told in apart(pd.concat(parts, ignore_index=True)):
        assert np.isfinite(told.ahead_s) and np.isfinite(told.err_s)
        assert told.proposed_s is None or abs(told.proposed_s) <= 15 * 3600


@given(MOMENTS, st.integers(-3_000_000_000, 3_000_000_000))
def test_a_clock_is_set_right_by_any_number_of_seconds(local, ahead_s):
    frames = pd.DataFrame(
        {
            "clock_at": pd.Series([local], dtype="datetime64[us]"),
            "captured_at": pd.Series([local], dtype="datetime64[us]"),
            "clock_ahead_s": [float(ahead_s)],
            "body": ["A"],
            "utc_offset_min": pd.Series([60], dtype="Int64"),
        }
    )
    assert set_right(frames)["captured_at"][0] == pd.Timestamp(local) - pd.Timedelta(seconds=ahead_s)


SPANS = """
[[worn]]
times = [0001-01-01T00:00:00, 9999-12-31T23:59:59]
bare = true

[[worn]]
times = [0001-01-01T00:00:00+14:00, 9999-12-31T23:59:59-12:00]
bare = true
"""


@pytest.fixture
def dump(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Every time above with and without zones and receivers; files changed in 1901 and in 2400."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    place, number = tmp_path / "dump", 0
    over = {0x1D: text("2026:05:01"), 7: ratio((23, 1), (0, 1), (0, 1))}
    over |= {
        1: text("S"),
        2: ratio((44, 1), (0, 1), (0, 1)),
        3: text("W"),
        4: ratio((176, 1), (0, 1), (0, 1)),
    }
    for written in (*NO_TIME, *A_TIME, "2026:05:02 12:00:00"):
        for zone in (None, "+14:00", "-12:00", "+99:99"):
            gps = over if number % 2 else None
            path = put(place, f"TARN{number:04d}.JPG", jpeg(block(time=written, offset=zone, gps=gps)))
            with suppress(OSError, OverflowError):  # not every file system has such times
                os.utime(path, (0, 13_569_465_600 if number % 3 else -2_177_452_800))
            number += 1
    (tmp_path / "kit.toml").write_text(KIT, encoding="utf-8")
    return place


def test_the_whole_audit_and_the_draft_say_no_wrong_day(dump, capsys):
    for spans in ("", SPANS):
        (dump / "filters.toml").write_text(spans, encoding="utf-8")
        words = ["audit", "dump", "--kit", "kit.toml", "--out", "rep", "--pixels", "off"]
        assert run([*words, "--place", "-44,-176"]) in (0, 1), capsys.readouterr().err
        frames = pd.read_parquet("rep/newest/frames.parquet")
        assert len(frames) == 4 * (len(NO_TIME) + len(A_TIME) + 1)
        days = set(frames["captured_at"].dropna().dt.date)
        assert days == {time.date() for time in A_TIME.values()} | {datetime(2026, 5, 2).date()}
    (dump / "filters.toml").unlink()
    assert run(["draft", "dump", "--kit", "kit.toml", "--write", "--pixels", "off"]) in (0, 1)
    assert run(["kit", "check", "dump"]) in (0, 1)
    assert run(["archive", "dump", "bag", "-q"]) in (0, 1)
    err = capsys.readouterr().err
    assert "Traceback" not in err and "a fault of cornerstop" not in err


@pytest.mark.parametrize("ahead", ["1e300", "-1e300", "1e12", "-9e9", "3e9", "0.5", "1e-9"])
def test_a_kit_that_sets_a_clock_by_any_number_is_read_or_refused(dump, capsys, ahead):
    name = next(line for line in KIT.splitlines() if line.startswith("model"))
    kit = f'[[body]]\nname = "A"\n{name}\nsensor_mm = [36.0, 24.0]\nclock_ahead_s = {ahead}\n'
    Path("own.toml").write_text(kit, encoding="utf-8")
    code = run(["audit", "dump", "--kit", "own.toml", "--out", "rep", "--pixels", "off", "-q"])
    assert code in (0, 1, 2), capsys.readouterr().err


def test_utc_of_the_extremes_of_zones():
    local = pd.Timestamp("2026-05-02 00:30")
    for zone in (14, -12):
        utc = local.to_pydatetime().replace(tzinfo=timezone(timedelta(hours=zone))).astimezone(UTC)
        frames = frames_of([local.to_pydatetime()], [None]).assign(
            utc_offset_min=pd.Series([60 * zone], dtype="Int64")
        )
        assert utc_moments(frames, Kit())[0][0] == pd.Timestamp(utc.replace(tzinfo=None))
