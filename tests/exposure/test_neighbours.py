"""Runs of frames held against those before and after: wrong declarations, and what only looks like them."""

import pandas as pd
import pytest

from audit.exposure.light import add_light
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.kit.kit import Kit

START = pd.Timestamp("2026-05-02 10:00:00")
KIT = Kit.model_validate(
    {"filter": [{"id": f"n{n}", "kind": "neutral", "stops": float(n)} for n in (3, 6, 10)]}
)


def worn(stops, **more):
    return {
        "declaration": "worn",
        "rig": f"n{stops}",
        "rig_words": f"n{stops}",
        "filters": [f"n{stops}"],
        "even_stops_min": float(stops),
        "even_stops_max": float(stops),
        "neutral_stops": float(stops),
        **more,
    }


def held(table, *rows, kit=KIT):
    timed = [{**row, "captured_at": str(START + pd.Timedelta(minutes=m))} for m, row in rows]
    return add_light(add_setups(add_scenes(table(timed))), kit)


def test_a_filter_that_was_not_on_steps_up_and_back_by_its_stops(table):
    rows = [(0, {"ev100": 12.0}), (1, worn(6, ev100=12.1)), (2, worn(6, ev100=12.1)), (3, {"ev100": 12.3})]
    out = held(table, *rows)
    assert out["neighbour_off_stops"].iloc[1:3].tolist() == pytest.approx([6.0, 6.0], abs=0.2)
    assert out["other_stops"].iloc[1] == 0.0
    assert out["neighbour_frames"].iloc[1] == ["100BRAT/TARN0101", "100BRAT/TARN0104"]


def test_another_setup_is_a_neighbour_too(table):
    rows = [(0, {"ev100": 12.0}), (4, worn(10, ev100=12.2, focal_length_mm=50.0)), (8, {"ev100": 12.0})]
    out = held(table, *rows)
    assert out["light_residual_stops"].isna().iloc[1]
    assert out["neighbour_off_stops"].iloc[1] == pytest.approx(10.2, abs=0.3)


def test_one_on_that_was_not_declared_is_named_by_the_kit(table):
    out = held(table, (0, {"ev100": 12.0}), (2, worn(6, ev100=2.2)), (4, {"ev100": 12.0}))
    assert out["other_stops"].iloc[1] == 10.0
    assert out["other_filters"].iloc[1] == ["n10"]


def test_what_nothing_in_the_kit_takes_is_not_explained(table):
    only = Kit.model_validate({"filter": [{"id": "n10", "kind": "neutral", "stops": 10.0}]})
    out = held(table, (0, {"ev100": 12.0}), (2, {"ev100": 6.0}), (4, {"ev100": 12.0}), kit=only)
    assert out["neighbour_off_stops"].iloc[1] == pytest.approx(-6.0, abs=0.1)
    assert pd.isna(out["other_stops"].iloc[1])


def test_dusk_that_falls_from_run_to_run_is_no_step(table):
    rows = [(2 * m, worn(3, ev100=9 - 0.6 * m) if m % 2 else {"ev100": 12.0 - 0.6 * m}) for m in range(10)]
    off = held(table, *rows)["neighbour_off_stops"]
    assert off.iloc[2:-2].abs().max() < 1.0


def test_a_set_by_hand_counts_once_and_none_of_it_is_held_against_the_rest(table):
    steps = [(1 + s / 12, {"ev100": 12.0 + d}) for s, d in enumerate([0, -3, 3, -2, 2, -1, 1])]
    out = held(table, (0, worn(3, ev100=9.0)), *steps, (3, worn(3, ev100=9.0)))
    assert out["neighbour_off_stops"].abs().max() < 0.5


def test_runs_that_only_the_exposure_tells_apart_may_be_a_set(table):
    out = held(table, *((m, {"ev100": 12.0 - 4 * (m % 2)}) for m in range(6)))
    assert out["neighbour_alike"].all()


def test_a_wrong_run_does_not_put_the_true_ones_beside_it_in_doubt(table):
    rows = [(m, worn(10, ev100=12.0) if m == 3 else {"ev100": 12.0 + 0.1 * m}) for m in range(7)]
    off = held(table, *rows)["neighbour_off_stops"]
    assert off.drop(3).abs().max() < 0.7
    assert off[3] > 9


def test_the_scatter_of_the_trip_is_measured(table):
    calm = [(m, worn(3, ev100=9.0) if m % 2 else {"ev100": 12.0}) for m in range(12)]
    rough = [(m, {**row, "ev100": row["ev100"] + (1.4 if m % 2 else -1.2)}) for m, row in calm]
    spreads = [held(table, *rows)["neighbour_spread_stops"].max() for rows in (calm, rough)]
    assert spreads[0] == 1.0
    assert spreads[1] > 1.2


def test_a_slip_of_unit_is_one_whatever_else_is_wrong_on_some_frames(table):
    """Density 3.0 typed as stops, on twelve frames; one was meant to wear it and did not."""
    kit = Kit.model_validate({"filter": [{"id": "n3", "kind": "neutral", "stops": 3.0}]})
    rows = [(0, {"ev100": 12.0})]
    rows += [(m, worn(3, ev100=12.0 if m == 5 else 2.0 + 0.1 * (m % 2))) for m in range(1, 13)]
    out = held(table, *rows, kit=kit)
    assert out["unit_slip"].notna().tolist() == [False, *[True] * 12]
    assert out["unit_slip"].dropna().nunique() == 1
    assert out["neighbour_off_stops"].iloc[0] > -1.0


def test_a_filter_that_was_simply_not_on_is_no_slip_of_unit(table):
    out = held(table, (0, {"ev100": 12.0}), (1, worn(3, ev100=11.5)))
    assert out["unit_slip"].isna().all()


def test_a_time_lapse_of_thousands_takes_seconds(table):
    rows = table([{"ev100": 12.0 - 4 * (m % 2)} for m in range(4000)])
    rows["captured_at"] = START + pd.to_timedelta(range(0, 80_000, 20), unit="s").as_unit("us")
    assert add_light(add_scenes(rows), KIT)["neighbour_off_stops"].notna().all()
