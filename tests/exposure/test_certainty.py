"""What speaks of a frame besides its step of ev100, and how sure an estimate may be called."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from audit.exposure.certainty import anchored, doubted, left_out, most_certain, unexplained, untold
from audit.exposure.daylight import LEVELS, MIDDLE_EV100, SKY_EV100, brightest, fresh_light, fresh_row
from audit.exposure.manner import manner_weights
from audit.exposure.observations import units_of
from audit.exposure.scenes import add_scenes
from audit.exposure.states import possible_states
from audit.exposure.witness import OFF_STOPS, seen_beside, witnesses
from audit.kit.kit import Kit

KIT = Kit.model_validate(
    {"filter": [{"id": f"n{s}", "kind": "neutral", "stops": float(s)} for s in (3, 6, 10)]}
)
STATES = possible_states(KIT)
SILENT = {"declaration": "undeclared", "declaration_source": None, "rig": None}
START = pd.Timestamp("2026-06-14 12:00:00")


@pytest.fixture
def units(table):
    """Units of rows given as (second, ev100) with what else is said of them."""

    def of(*rows, **more):
        said = [
            {"captured_at": str(START + pd.Timedelta(seconds=s)), "ev100": ev, **SILENT, **row}
            for s, ev, row in rows
        ]
        return units_of(add_scenes(table(said)), **more)

    return of


def expected(row):
    """Mean EV100 of a row of `fresh_light` about the middle."""
    return float(fresh_light()[row] @ LEVELS) + MIDDLE_EV100


def test_noon_is_bright_and_midnight_dark_by_the_clock_alone():
    second = np.array([pd.Timestamp(t).timestamp() for t in ("2026-06-14 12:10", "2026-06-14 00:10")])
    noon, night = fresh_row(np.full(2, np.nan), second)
    assert expected(noon) > 10.5 and expected(night) < 4.5
    untimed = fresh_row(np.full(1, np.nan), np.array([np.nan]))[0]
    assert expected(night) < expected(untimed) < expected(noon)


def test_every_row_of_light_is_a_chance_and_leaves_nothing_out():
    light = fresh_light()
    np.testing.assert_allclose(light.sum(axis=1), 1, atol=1e-5)
    assert (light > 0).all()


def test_a_known_sky_goes_before_the_clock():
    midnight = np.array([pd.Timestamp("2026-06-14 00:10").timestamp()])
    row = fresh_row(np.array([14.2]), midnight)[0]
    assert SKY_EV100[row] == 14
    assert abs(fresh_light()[row] @ LEVELS + 2.5) < 1  # by day the landscape is below the sunlit one


def test_no_scene_is_brighter_than_snow_nor_far_above_its_sky():
    assert brightest(np.array([np.nan, 15.0, 10.0])).tolist() == pytest.approx(
        [16.75, 16.75, 12.73], abs=0.05
    )


@pytest.mark.parametrize(
    ("shot", "less"),
    [
        ({"exposure_time_s": 1 / 250}, True),
        ({"exposure_time_s": 120.0}, False),
        ({"exposure_time_s": 1 / 60, "flash_fired": True}, True),
        ({"exposure_time_s": 15.0, "iso": 6400.0, "f_number": 2.8}, True),
    ],
)
def test_how_a_frame_is_shot_speaks_for_or_against_strong_neutrals(units, shot, less):
    first = (0, 12.0, {"exposure_time_s": 0.5, "f_number": 11.0, "iso": 100.0})
    row, weights = manner_weights(units(first, (60, 8.0, {"f_number": 11.0, "iso": 100.0, **shot})), STATES)
    none, ten = (weights[row[1]][int(np.argmin(np.abs(STATES.stops - s)))] for s in (0, 10))
    assert (ten < 0.8 * none) if less else (none < 0.8 * ten)


def test_a_manner_counts_where_it_changes_and_less_where_it_comes_back(units):
    held, tripod = {"exposure_time_s": 1 / 250}, {"exposure_time_s": 2.0}
    row, weights = manner_weights(
        units(*((30 * i, 10.0, m) for i, m in enumerate((held, held, tripod, held)))), STATES
    )
    ten = int(np.argmin(np.abs(STATES.stops - 10)))
    first, same, _, again = weights[row][:, ten]
    assert first < again < same == 1


def test_another_body_is_a_witness_within_five_minutes_once_a_composition(units):
    rows = [(30 * i, 12.0, {}) for i in range(4)] + [(40, 11.0, {"body": "B"}), (5000, 9.0, {"body": "B"})]
    found = units(*rows)
    light = np.where(found.body == found.body[0], 12.0, 11.0)
    ev100, off = seen_beside(found, witnesses(found), light)
    assert off.tolist() == [OFF_STOPS, 0, 0, 0, OFF_STOPS, 0]
    assert ev100[0] == 11.0 and ev100[4] == 12.0


def test_what_nothing_in_the_kit_takes_is_a_jump_and_what_something_takes_is_none(units):
    found = units((0, 12.0, {}), (20, 12.0, {}), (60, 5.7, {}), (90, 5.7, {}))
    stops = np.zeros(4)
    assert unexplained(found, stops, STATES).tolist() == [0, 0, 0, 0]  # six takes it
    small = possible_states(Kit.model_validate({"filter": [{"id": "n3", "kind": "neutral", "stops": 3.0}]}))
    assert unexplained(found, stops, small) == pytest.approx([0, 0, 6.3, 0])
    most = most_certain(found, small, unexplained(found, stops, small))
    assert (most[2:] <= 0.8).all() and (most[:2] > 0.8).all()


def test_a_run_is_anchored_by_the_sun_by_a_declaration_and_by_bright_light(units):
    dark = [(60 * i, 6.0 - 3 * (i % 2), {}) for i in range(4)]
    assert not anchored(units(*dark), STATES).any() and not untold(units(*dark), STATES).any()
    assert anchored(units(*dark, sky_ev100=np.full(4, 9.0)), STATES).all()
    said = {"declaration": "bare", "declaration_source": "photographer"}
    assert anchored(units((0, 6.0, said), *dark[1:]), STATES).all()
    assert anchored(units((0, 15.0, {}), *dark[1:]), STATES).all()
    still = [(60 * i, 6.0, {}) for i in range(4)]
    assert untold(units(*still), STATES).all()


def test_compositions_left_out_are_those_without_a_declared_frame(units):
    said = {"declaration": "bare", "declaration_source": "photographer"}
    other = {"focal_length_mm": 50.0}
    found = units((0, 12.0, said), (20, 12.0, {}), (400, 12.0, other), (420, 12.0, other))
    assert left_out(found).tolist() == [False, False, True, True]
    assert not left_out(replace(found, declared=np.full(4, -1))).any()


def test_doubt_lowers_what_is_stated_and_never_states_certainty():
    stated = doubted(np.array([0.5, 0.9, 1.0]), np.full(3, 0.5))
    assert (np.diff(stated) > 0).all() and stated[1] < 0.9 and stated[2] <= 0.999
