"""Exposure series: by hand, by compensation, without ISO speed, broken off; and what is none or undecided."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.kit.kit import Filter, Kit
from benchmarks.world import series

START = datetime(2026, 5, 2, 10)
THIRD = 1 / 3


def kit(*stops, grad=()):
    items = [Filter(id=f"n{s}", kind="neutral", stops=float(s)) for s in stops]
    items += [Filter(id=f"g{s}", kind="grad-soft", stops=float(s)) for s in grad]
    return Kit(filter=tuple(items))


def taken(offsets, *, pause=6.0, time_s=1 / 60, program="manual", iso=100.0, f=8.0, at=0.0, **more):
    """Frames so many stops brighter than the first setting; `pause` s apart, or as listed."""
    rows = []
    pauses = np.broadcast_to(pause, len(offsets))
    for off, wait in zip(offsets, pauses, strict=True):
        seconds = time_s * 2.0**off
        at += float(wait)
        ev = float(np.log2(f * f / seconds) - np.log2(iso / 100)) if iso and f else None
        row = {"captured_at": str(START + timedelta(seconds=round(at))), "exposure_time_s": seconds}
        row |= {"exposure_time_exact_s": seconds, "f_number_exact": f}
        rows.append(row | {"iso": iso, "f_number": f, "ev100": ev, "exposure_program": program} | more)
        at += seconds
    return rows


def found(table, rows, of=None):
    """Size of each series, in order, and who stepped it."""
    out = add_scenes(table(rows), of)
    groups = out[out["bracket"].notna()].groupby("bracket", sort=False)
    return [(len(part), part["bracket_by"].iloc[0]) for _, part in groups]


@pytest.mark.parametrize(
    "offsets",
    [
        [THIRD * k for k in range(-11, 12)],  # more than nine, in thirds
        [0, -1, 1, -2, 2],
        [2, -1, 0, 1, -2],  # in any order
        [-2, -1, -1, 0, 1, 2],  # one repeated
        [-4, -2, 2, 4],  # one step left out
        [-3, 0, 3],
        [0, 1, 2, 3, 4, 4 + THIRD],  # the dial's last click
    ],
)
@pytest.mark.parametrize("written", [{}, {"iso": None}, {"f": None}, {"program": None}])
def test_a_series_turned_by_hand_is_found_whole(table, offsets, written):
    assert found(table, taken(offsets, pause=12.0 if len(offsets) > 4 else 6.0, **written)) == [
        (len(offsets), "hand")
    ]


def test_long_exposures_explain_long_pauses(table):
    assert found(table, taken([0, -1, -2, -3, -4], time_s=30.0, pause=15.0)) == [(5, "hand")]


def test_compensation_tells_of_a_series_whatever_moves_with_it(table):
    bias = [2.0, 1.75, 1.5, 1.25, 0.83, 0.5, 0.08, -0.25]
    rows = taken(np.zeros(8), program="normal program")
    for row, stops in zip(rows, bias, strict=True):
        row |= {"exposure_bias_stops": stops, "iso": 100.0 * 2**stops, "ev100": 12.0 - stops}
    assert found(table, rows) == [(8, "hand")]
    fifths = taken([-0.4, -0.2, 0.0, 0.2, 0.4], pause=3.0, program="aperture priority")
    for row, stops in zip(fifths, (-0.4, -0.2, 0.0, 0.2, 0.4), strict=True):
        row["exposure_bias_stops"] = stops
    assert found(table, fifths) == [(5, "hand")]


def test_a_series_broken_off_and_taken_up_again_is_one(table):
    pauses = [6, 9, 9, 9, 300, 150, 9, 9, 9]
    assert found(table, taken([0, -1, -2, -3, -9.4, -4, -5, -6, -7], pause=pauses)) == [(9, "hand")]
    assert [size for size, _ in found(table, taken([0, -1, -2, -3, 0, -1, -2, -3]))] == [4, 4]


@pytest.mark.parametrize(
    "rows",
    [
        taken([0, 1]),
        taken([0, THIRD, 2 * THIRD], pause=12.0),  # tries that were mended
        taken([0, 1, -1], time_s=120.0),  # by the clock
        taken([0, 1, 2], program="aperture priority", exposure_bias_stops=0.0),  # clouds
        taken([THIRD * k for k in range(6)], pause=25.0),  # dusk, a stop a minute
        taken([0, 1, 5, -2]),
        taken([0] * 12),
    ],
)
def test_what_is_no_series(table, rows):
    assert found(table, rows) == []


def test_a_frame_turned_upright_or_behind_another_rig_ends_it(table):
    rows = taken([0, 1, 2, 3, 4, 5])
    for row in rows[3:]:
        row["orientation"] = 6
    assert found(table, rows) == [(3, "hand"), (3, "hand")]
    rigs = taken([0, 1, 2, 3, 4, 5])
    for row, rig in zip(rigs, ("a", None, None, "b", None, None), strict=True):
        row["rig"] = rig
    assert found(table, rigs) == [(3, "hand"), (3, "hand")]


def test_a_frame_to_meter_by_is_no_part(table):
    assert found(table, taken([0, -2, -1, 0, 1, 2])) == [(5, "hand")]
    late = taken([0, 1, 2, 3, 4], pause=[6, 6, 6, 6, 29])
    assert found(table, late) == [(4, "hand")]


@pytest.mark.parametrize(
    ("offsets", "pause", "of", "by"),
    [
        ([0, 3, 6], 20.0, kit(3, 6, 10), "undecided"),
        ([0, 3, 6], 3.0, kit(3, 6, 10), "hand"),  # no filter goes on in three seconds
        ([0, 3, 6], 20.0, kit(6, 10), "hand"),
        ([0, 3, 6], 20.0, kit(), "hand"),
        ([0, 2, 4], 20.0, kit(3, 6, 10), "hand"),
        ([0, 2.5, 5], 20.0, kit(3, grad=(1,)), "hand"),
        ([0, 1.5, 3], 20.0, kit(3, grad=(2,)), "undecided"),
        ([0, 1, 2, 3, 4, 5], 20.0, kit(1, 2, 3), "hand"),  # nobody changes filters six times in a row
    ],
)
def test_filters_of_the_kit_leave_it_undecided(table, offsets, pause, of, by):
    rows = taken(offsets, pause=pause)
    assert found(table, rows, of) == [(len(offsets), by)]
    words = add_setups(add_scenes(table(rows), of))["sequence_words"].iloc[0]
    assert words.startswith("may be a bracket" if by == "undecided" else "bracket")


def test_compensation_is_never_undecided(table):
    rows = taken([0, 3, -3], pause=20.0, program="aperture priority")
    for row, stops in zip(rows, (0.0, 3.0, -3.0), strict=True):
        row["exposure_bias_stops"] = stops
    assert found(table, rows, kit(3, 6)) == [(3, "hand")]


def test_real_series_are_found_whole_and_ordinary_ones_are_none():
    figures = series.series_figures()
    if figures is None:
        pytest.skip("../shared/reference/series_dev.json is not there")
    assert figures["series whole"] == figures["series"]
    assert figures["ordinary called a set"] == 0


def test_the_order_of_rows_does_not_matter(table):
    rows = table(taken([0, 1, 2, 3, 4]) + taken([0, -1, 1], at=900.0))
    mixed = add_scenes(rows.sample(frac=1, random_state=1))
    pd.testing.assert_frame_equal(mixed.sort_index(), add_scenes(rows))
