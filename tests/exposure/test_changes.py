"""A change of total exposure while the scene held is told with its size; what is no change of it is not."""

from math import log2

import pandas as pd
import pytest

from audit.exposure.changes import exposure_changes
from audit.exposure.setups import add_setups

AT = pd.Timestamp("2026-05-02 10:00:00")


def frames(table, *rows):
    """Frames a minute apart in one setup; a row is (seconds, f-number, ISO) and what else differs."""
    full = []
    for n, ((time_s, f_number, iso), more) in enumerate(rows):
        ev = None if time_s is None else log2(f_number**2 / time_s) - log2(iso / 100)
        full.append(
            {
                "captured_at": AT + pd.Timedelta(minutes=n),
                "exposure_time_s": time_s,
                "exposure_time_exact_s": time_s,
                "f_number": f_number,
                "f_number_exact": f_number,
                "iso": float(iso),
                "ev100": ev,
                "declaration": "undeclared",
                **more,
            }
        )
    return add_setups(table(full))


def stops(table, *rows):
    return [round(one.stops, 1) for one in exposure_changes(frames(table, *rows))]


def test_a_filter_that_goes_on_and_comes_off_is_told_with_its_frames(table):
    found = exposure_changes(
        frames(table, ((1 / 64, 8, 100), {}), ((16, 8, 100), {}), ((1 / 64, 8, 100), {}))
    )
    assert [(one.before, one.after, round(one.stops, 1)) for one in found] == [(0, 1, 10.0), (1, 2, -10.0)]


@pytest.mark.parametrize(
    "rows",
    [
        [((1 / 64, 8, 100), {}), ((1 / 8, 8 * 8**0.5, 100), {})],  # stopped down by as much
        [((1 / 64, 8, 100), {}), ((1 / 512, 8, 800), {})],  # ISO raised
        [((1 / 64, 8, 100), {}), ((1 / 16, 8, 100), {"exposure_bias_stops": 2.0})],  # compensation
        [((1 / 64, 8, 100), {}), ((16, 8, 100), {"focal_length_mm": 70.0})],  # another scene
        [((1 / 64, 8, 100), {}), ((16, 8, 100), {"flash_fired": True})],
        [((1 / 64, 8, 100), {}), ((16, 8, 100), {"captured_at": None})],
        [
            ((1 / 64, 8, 100), {}),
            ((16, 8, 100), {"captured_at": AT + pd.Timedelta(minutes=9)}),
        ],  # too long ago
        [((1 / 64, 8, 100), {}), ((1 / 16, 8, 100), {})],  # a cloud does as much
        [((1 / 64, 8, 100), {"sky_ev100": 12.0}), ((1 / 8, 8, 100), {"sky_ev100": 9.0})],  # the sun went
        [((1 / 64, 8, 100), {}), ((None, 8, 100), {})],
        [],
    ],
)
def test_what_is_no_change_of_the_whole_exposure_is_not_told(table, rows):
    assert stops(table, *rows) == []


def test_a_dark_picture_counts_as_less_light(table):
    bright = {"picture_stops": 0.0, "exposure_program": "manual"}
    dark = {"picture_stops": -6.0, "exposure_program": "manual"}
    assert stops(table, ((1 / 64, 8, 100), bright), ((1 / 64, 8, 100), dark)) == [6.0]


def test_the_largest_come_first_and_a_marker_is_passed_over(table):
    rows = frames(
        table, ((1 / 64, 8, 100), {}), ((1 / 8, 8, 100), {}), ((30, 8, 100), {}), ((16, 8, 100), {})
    )
    assert [round(one.stops, 1) for one in exposure_changes(rows)] == [7.9, 3.0]
    rows.loc[2, "sequence"] = "marker"
    assert [(one.after, round(one.stops, 1)) for one in exposure_changes(rows)] == [(3, 7.0), (1, 3.0)]
