"""The sun's altitude against almanac examples and the library; place and UTC, and what is said of them."""

import re

import numpy as np
import pandas as pd
import pytest
from astral import Observer
from astral.sun import elevation

from audit.exposure.sun import add_sky, sun_altitude
from audit.kit.kit import Kit

SKARVEN = {"latitude_deg": 61.2, "longitude_deg": 7.1}
KIT = Kit.model_validate({**SKARVEN, "utc_offset": "+02:00"})


def utc(*texts):
    return pd.Series(pd.to_datetime(list(texts))).astype("datetime64[us]")


def test_the_example_of_the_solar_position_algorithm():
    """Reda and Andreas, NREL/TP-560-34302, table A5.1: 17 October 2003, 12:30:30 at UTC-7, 39.742476 N,
    105.1786 W. Zenith 50.11162 with a refraction of 0.01633 degrees (the refraction from memory)."""
    altitude, rate = sun_altitude(utc("2003-10-17 19:30:30"), [39.742476], [-105.1786])
    assert altitude[0] == pytest.approx(90 - 50.11162 - 0.01633, abs=0.005)
    # azimuth 194.34 there: the sun has just passed the south and sinks
    assert rate[0] == pytest.approx(0.25 * np.cos(np.radians(39.742)) * np.sin(np.radians(194.34)), rel=0.01)


def test_the_example_of_the_suns_declination():
    """Meeus, Astronomical Algorithms, example 25.a, from memory: 13 October 1992, 0 h, declination -7.78507.
    On the meridian, at longitude 180 about that hour, the altitude is 90 - latitude + declination."""
    day = pd.Series(pd.date_range("1992-10-12 23:30:00", periods=120, freq="30s")).dt.as_unit("us")
    altitude, _ = sun_altitude(day, np.full(len(day), 40.0), np.full(len(day), 180.0))
    assert altitude.max() == pytest.approx(90 - 40.0 - 7.78507, abs=0.01)


def test_altitude_is_the_librarys_and_its_rate_the_change():
    random = np.random.default_rng(6)
    moments = pd.Series(pd.Timestamp("2026-01-01") + pd.to_timedelta(random.uniform(0, 3e7, 200), unit="s"))
    moments = moments.dt.floor("s").dt.as_unit("us")
    latitude, longitude = random.uniform(-70, 75, 200), random.uniform(-179, 179, 200)
    altitude, rate = sun_altitude(moments, latitude, longitude)
    zipped = zip(moments.dt.tz_localize("UTC"), latitude, longitude, strict=True)
    theirs = [elevation(Observer(y, x), t.to_pydatetime(), with_refraction=False) for t, y, x in zipped]
    np.testing.assert_allclose(altitude, theirs)
    later, _ = sun_altitude(moments + pd.Timedelta(minutes=1), latitude, longitude)
    earlier, _ = sun_altitude(moments - pd.Timedelta(minutes=1), latitude, longitude)
    np.testing.assert_allclose(rate, (later - earlier) / 2, atol=5e-4)


def sky(table, *rows, kit=Kit(), place=None):  # noqa: B008
    return add_sky(table(rows), kit, place)


def test_dusk_has_level_slope_errors_and_source(table):
    out = sky(table, {**SKARVEN, "captured_at": "2026-05-02 22:10:00", "utc_offset_min": 120}).iloc[0]
    assert -5 < out["sun_altitude_deg"] < 0
    assert 2 < out["sky_ev100"] < 9
    assert -0.2 < out["sky_slope_stops_per_min"] < -0.05
    assert 3 <= out["sky_err_stops"] <= 4
    assert out["sky_slope_err_stops_per_min"] < 0.1
    assert out["sky_source"] == "position in the file; UTC by the offset in EXIF"


def test_a_long_exposure_at_dusk_is_judged_by_its_mean(table):
    row = {"captured_at": "2026-05-02 22:40:00"}
    short, long = (sky(table, {**row, "exposure_time_s": t}, kit=KIT).iloc[0] for t in (0.1, 480.0))
    assert 0 < long["sky_ev100"] - short["sky_ev100"] < 0.2  # start and end both possible
    assert long["sky_err_stops"] > short["sky_err_stops"]


def test_the_files_position_comes_before_the_one_given_and_that_before_the_kits(table):
    noon = {"captured_at": "2026-05-02 12:00:00"}
    rows = [
        {**noon, "latitude_deg": 0.0, "longitude_deg": 7.1},
        {**noon, "captured_at": "2026-05-04 12:00:00"},
    ]
    out = sky(table, *rows, kit=KIT, place=(30.0, 7.1))
    assert out["sun_altitude_deg"].round().tolist() == [63, 65]
    assert out["sky_source"].tolist() == [
        "position in the file; UTC by the kit's utc_offset",
        "place as given; UTC by the kit's utc_offset",
    ]
    assert sky(table, noon, kit=KIT)["sky_source"].tolist() == [
        "place of the kit; UTC by the kit's utc_offset"
    ]


def test_a_frame_without_position_borrows_one_within_the_hour(table):
    times = ["10:00", "10:40", "11:30", "10:50"]
    rows = [{"captured_at": f"2026-05-02 {t}:00", "utc_offset_min": 120} for t in times]
    rows[0] |= {"latitude_deg": 10.0, "longitude_deg": 7.0}
    rows[3] |= SKARVEN
    out = sky(table, *rows)
    near = "position of a frame near in time; UTC by the offset in EXIF"
    assert out["sky_source"].tolist()[1:3] == [near, near]
    assert out["sun_altitude_deg"].iloc[1] == pytest.approx(out["sun_altitude_deg"].iloc[3], abs=1.5)
    alone = sky(table, rows[0], {**rows[1], "captured_at": "2026-05-02 11:30:00"})
    assert alone["sky_source"].iloc[1].startswith("no sun model: no place")


@pytest.mark.parametrize(
    ("at", "source"),
    [
        ("2026-05-02 08:10:00", "position in the file; UTC by the receiver's time"),
        ("2026-05-02 08:04:00", "position in the file; UTC by the receiver's time"),
        ("2026-05-02 08:11:00", "position in the file; UTC by the receiver's time"),
        ("2026-05-02 07:53:00", "no sun model: the receiver's time fits the clock in no zone"),
        ("2026-04-29 08:10:00", "no sun model: the receiver's time fits the clock in no zone"),
    ],
)
def test_utc_by_the_receivers_time(table, at, source):
    """Two hours ahead, with a fix a little old or a clock a little behind; else nothing."""
    row = {**SKARVEN, "captured_at": "2026-05-02 10:10:00", "gps_at": at}
    out = sky(table, row)
    assert out["sky_source"].iloc[0].startswith(source)
    if "no sun" not in source:
        exif = sky(table, {**row, "utc_offset_min": 120})
        assert out["sun_altitude_deg"].iloc[0] == exif["sun_altitude_deg"].iloc[0]


def test_without_time_offset_or_place_it_is_said(table):
    offset = {"utc_offset_min": 120}
    out = sky(table, {**SKARVEN}, {**offset}, {**SKARVEN, **offset, "captured_at": None}, {"body": "B"})
    assert out["sky_source"].str.replace(r" \(.*", "", regex=True).tolist() == [
        "no sun model: no offset from UTC",
        "no sun model: no place",
        "no sun model: no time of capture",
        "no sun model: no offset from UTC",
    ]
    numbers = ["sun_altitude_deg", "sky_ev100", "sky_err_stops", "sky_slope_stops_per_min"]
    assert out[numbers].isna().all(axis=None)


def test_no_words_hold_a_position(table):
    rows = [{**SKARVEN, "utc_offset_min": 120}, {"gps_at": "2026-05-02 08:00:00"}, {}, {"captured_at": None}]
    for kit in (KIT, Kit()):
        words = " ".join(sky(table, *rows, kit=kit)["sky_source"])
        assert not re.search(r"\d", words.replace("utc_offset", ""))


def test_an_empty_table(table):
    assert len(add_sky(table([{}]).iloc[:0], KIT)) == 0
