"""Scenes and brackets from time, body, lens and steps of exposure."""

import pandas as pd
import pytest

from audit.exposure.scenes import add_scenes

START = pd.Timestamp("2026-05-02 10:00:00")


def frames(table, *rows):
    return add_scenes(
        table([{**row, "captured_at": str(START + pd.Timedelta(seconds=s))} for s, row in rows])
    )


def test_a_pause_counts_from_the_end_of_a_long_exposure(table):
    out = frames(
        table, (0, {"exposure_time_s": 240.0}), (240 + 590, {}), (240 + 590 + 610, {}), (240 + 590 + 620, {})
    )
    assert out["scene"].tolist() == ["100BRAT/TARN0101"] * 2 + ["100BRAT/TARN0103"] * 2


def test_body_lens_and_focal_length_part_scenes(table):
    out = frames(
        table,
        (0, {}),
        (1, {"body": "B"}),
        (2, {"focal_length_mm": 35.0}),
        (3, {"lens": "Sund 24-105 mm f4"}),
        (4, {"lens": None, "focal_length_mm": 24.0}),
    )
    assert out["scene"].nunique() == 5


def test_frames_without_time_or_focal_length_belong_to_no_scene(table):
    out = add_scenes(table([{"captured_at": ""}, {"focal_length_mm": None}, {}]))
    assert out["scene"].isna().tolist() == [True, True, False]


def test_brackets_have_even_steps_and_burst_timing(table):
    steps = [(0, {"ev100": 12.0}), (1, {"ev100": 14.0}), (2, {"ev100": 10.0})]
    out = frames(table, *steps, (60, {"ev100": 12.0}), (120, {"ev100": 13.0}), (180, {"ev100": 14.0}))
    assert out["bracket"].notna().tolist() == [True] * 3 + [False] * 3


def test_uneven_steps_are_a_bracket_only_where_the_camera_says_so(table):
    uneven = [(0, {"ev100": 12.0}), (1, {"ev100": 13.0}), (2, {"ev100": 10.0})]
    assert frames(table, *uneven)["bracket"].isna().all()
    told = [(s, {**row, "exposure_mode": "auto bracket"}) for s, row in uneven]
    assert frames(table, *told)["bracket"].notna().all()


def test_a_bracket_keeps_one_rig(table):
    rows = [(0, {"ev100": 12.0}), (1, {"ev100": 14.0, "rig": "other"}), (2, {"ev100": 10.0})]
    assert frames(table, *rows)["bracket"].isna().all()


def test_a_burst_of_equal_frames_is_no_bracket(table):
    assert frames(table, *[(s, {}) for s in range(5)])["bracket"].isna().all()


def test_row_order_does_not_matter(table):
    rows = table([{"captured_at": str(START + pd.Timedelta(minutes=7 * i))} for i in range(6)])
    mixed = rows.sample(frac=1, random_state=1)
    pd.testing.assert_frame_equal(add_scenes(mixed).sort_index(), add_scenes(rows))


def test_two_frames_are_a_bracket_only_where_the_camera_says_so(table):
    pair = [(0, {"ev100": 12.0}), (1, {"ev100": 10.0})]
    assert frames(table, *pair)["bracket"].isna().all()
    told = [(s, {**row, "exposure_mode": "auto bracket"}) for s, row in pair]
    assert frames(table, *told)["bracket"].notna().all()


def test_a_clock_set_to_another_zone_keeps_the_order(table):
    """10:00 at +02:00 and 10:01 at +03:00 are 59 minutes apart."""
    out = frames(table, (0, {"utc_offset_min": 120}), (60, {"utc_offset_min": 180}))
    assert out["scene"].nunique() == 2


@pytest.mark.parametrize("size", range(3, 10))
def test_brackets_of_three_to_nine_frames_are_found_by_their_steps(table, size):
    out = frames(table, *[(s, {"ev100": 12.0 + s}) for s in range(size)], (600, {"ev100": 12.0}))
    assert out["bracket"].notna().tolist() == [True] * size + [False]


def test_a_dark_frame_as_long_as_the_exposure_does_not_part_a_bracket(table):
    rows, at = [], 0
    for time_s, ev in ((8.0, 3.0), (2.0, 5.0), (30.0, 1.1)):
        rows.append((at, {"exposure_time_s": time_s, "ev100": ev}))
        at += 2 * time_s + 2
    assert frames(table, *rows)["bracket"].notna().all()


def test_a_clock_set_back_on_the_way_does_not_mix_two_places(table):
    rows = [
        (0, {"utc_offset_min": 120}),
        (60, {"utc_offset_min": 120}),
        (30, {"utc_offset_min": 60}),
        (90, {"utc_offset_min": 60}),
    ]
    out = frames(table, *rows)
    assert out["scene"].tolist() == ["100BRAT/TARN0101"] * 2 + ["100BRAT/TARN0103"] * 2


def test_an_offset_missing_on_one_frame_leaves_the_camera_clock(table):
    out = frames(table, (0, {"utc_offset_min": 120}), (60, {}), (120, {"utc_offset_min": 120}))
    assert out["scene"].nunique() == 1
