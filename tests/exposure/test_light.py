"""The light that exposure and declared filters imply, and what does not fit."""

import time

import pandas as pd
import pytest

from audit.exposure.light import add_light
from audit.exposure.scenes import add_scenes
from audit.kit.kit import Kit

START = pd.Timestamp("2026-05-02 10:00:00")


def worn(*filters, even=0.0, grad=0.0, even_max=None, **more):
    return {
        "declaration": "worn",
        "rig": "+".join(filters),
        "rig_words": "+".join(filters),
        "filters": list(filters),
        "even_stops_min": even,
        "even_stops_max": even if even_max is None else even_max,
        "grad_stops": grad,
        **more,
    }


def measured(table, *rows, kit=None):
    timed = [{**row, "captured_at": str(START + pd.Timedelta(minutes=m))} for m, row in rows]
    return add_light(add_scenes(table(timed)), kit or Kit())


def test_filters_that_were_on_leave_no_residual(table):
    out = measured(table, (0, {"ev100": 12.0}), (1, worn("n6", even=6.0, ev100=6.1)))
    assert (
        out["light_residual_stops"].tolist() == [0.0, 0.0] or out["light_residual_stops"].abs().max() < 0.11
    )
    assert out["light_min_ev100"].tolist() == pytest.approx([12.0, 12.1])


def test_a_filter_declared_but_not_on_is_its_stops_too_bright(table):
    out = measured(table, (0, {"ev100": 12.0}), (2, worn("n10", even=10.0, ev100=12.0)))
    assert out["light_residual_stops"].iloc[1] == pytest.approx(10.0)
    assert out["light_tolerance_stops"].iloc[1] == pytest.approx(1.2)


def test_a_filter_forgotten_in_the_declaration_shows_against_the_other_bare_frames(table):
    out = measured(table, (0, {"ev100": 12.0}), (1, {"ev100": 12.2}), (2, {"ev100": 6.0}))
    assert out["light_residual_stops"].iloc[2] == pytest.approx(-6.1)
    assert out["light_residual_stops"].iloc[:2].abs().max() < 0.3


def test_two_bare_frames_that_disagree_are_both_told(table):
    out = measured(table, (0, {"ev100": 12.0}), (1, {"ev100": 6.0}))
    assert out["light_residual_stops"].tolist() == pytest.approx([6.0, -6.0])


def test_polariser_and_grad_are_ranges(table):
    out = measured(
        table,
        (0, {"ev100": 12.0}),
        (1, worn("pol", even=1.0, even_max=2.0, ev100=10.3)),
        (2, worn("g3", grad=3.0, ev100=9.5)),
        (3, worn("g3", grad=3.0, ev100=12.0)),
    )
    assert out["light_residual_stops"].tolist()[1:] == [0.0] * 3


def test_compensation_counts_except_in_manual_exposure(table):
    out = measured(
        table,
        (0, {"ev100": 12.0}),
        (1, {"ev100": 10.0, "exposure_bias_stops": 2.0}),
        (2, {"ev100": 12.0, "exposure_bias_stops": 2.0, "exposure_program": "manual"}),
    )
    assert out["light_residual_stops"].abs().max() == 0.0


def test_a_bracket_counts_once_by_its_middle(table):
    bracket = [(1 + s / 60, worn("g2", grad=2.0, ev100=ev)) for s, ev in enumerate([11.5, 13.5, 9.5])]
    out = measured(table, (0, {"ev100": 12.0}), *bracket)
    assert out["light_min_ev100"].iloc[1:].tolist() == [11.5] * 3
    assert out["light_residual_stops"].abs().max() == 0.0


def test_flash_unknown_and_estimated_frames_take_no_part(table):
    out = measured(
        table,
        (0, {"ev100": 12.0}),
        (1, {"ev100": 5.0, "flash_fired": True}),
        (2, {"ev100": 5.0, "declaration": "unknown"}),
        (3, worn("n6", even=6.0, ev100=12.0, declaration_source="estimated")),
        (4, {"ev100": None}),
    )
    assert out["light_min_ev100"].notna().tolist() == [True, False, False, False, False]
    assert out["light_residual_stops"].isna().all()


def kit(**strength):
    return Kit.model_validate({"filter": [{"id": "n3", "kind": "neutral", **strength}]})


def test_density_typed_as_stops(table):
    out = measured(
        table,
        (0, {"ev100": 12.0}),
        (1, worn("n3", even=0.9, ev100=9.0)),
        (30, {"ev100": 13.0}),
        (31, worn("n3", even=0.9, ev100=10.1)),
        kit=kit(stops=0.9),
    )
    assert out["unit_slip"].notna().tolist() == [False, True, False, True]
    assert out["unit_slip"].iloc[1] == 'filter "n3" says stops = 0.9; as density it would cost 2.99 stops'


def test_a_filter_that_fits_once_has_no_slip_of_unit(table):
    out = measured(
        table,
        (0, {"ev100": 12.0}),
        (1, worn("n3", even=0.9, ev100=9.0)),
        (30, {"ev100": 13.0}),
        (31, worn("n3", even=0.9, ev100=12.1)),
        kit=kit(stops=0.9),
    )
    assert out["unit_slip"].isna().all()


def test_stops_typed_as_density_and_factor_as_stops(table):
    out = measured(table, (0, {"ev100": 12.0}), (1, worn("n3", even=9.97, ev100=9.1)), kit=kit(density=3.0))
    assert "as stops it would cost 3.00" in out["unit_slip"].iloc[1]
    out = measured(table, (0, {"ev100": 12.0}), (1, worn("n3", even=8.0, ev100=9.1)), kit=kit(stops=8.0))
    assert "as factor it would cost 3.00" in out["unit_slip"].iloc[1]


def test_light_that_came_step_by_step_is_explained(table):
    """At dusk each frame fits the one before, though the last lies far from the bare one."""
    rows = [(0, {"ev100": 12.0}), *((4 * i, worn("n3", even=3.0, ev100=9.0 - 0.5 * i)) for i in range(1, 9))]
    out = measured(table, *rows)
    assert (out["light_residual_stops"].abs() <= out["light_tolerance_stops"]).iloc[1:].all()


def test_a_step_that_nothing_leads_to_is_not_explained(table):
    rows = [(0, {"ev100": 12.0}), *((i, worn("n6", even=6.0, ev100=12.0)) for i in range(1, 4))]
    out = measured(table, *rows)
    assert (out["light_residual_stops"] > out["light_tolerance_stops"]).iloc[1:].all()


def beyond(out):
    return (out["light_residual_stops"].abs() > out["light_tolerance_stops"]).tolist()


def test_a_reference_that_one_bad_frame_leads_astray_is_pooled(table):
    rows = [
        (0, {"ev100": 12.0}),
        (1, {"ev100": 12.1}),
        (2, {"ev100": 11.2}),
        (3, worn("n6", even=6, ev100=6.5)),
    ]
    assert beyond(measured(table, *rows)) == [False] * 4


def test_a_bracket_of_two_may_have_its_middle_at_either_frame(table):
    told = {"exposure_mode": "auto bracket", "exposure_program": "manual"}
    pair = [(1, {"ev100": 12.0, **told}), (1 + 1 / 60, {"ev100": 14.0, **told})]
    out = measured(table, (0, {"ev100": 12.0}), *pair)
    assert out["light_min_ev100"].iloc[1:].tolist() == [12.0, 12.0]
    assert out["light_max_ev100"].iloc[1:].tolist() == [14.0, 14.0]
    assert beyond(out) == [False] * 3


def test_dusk_that_falls_step_by_step_is_no_fault_of_the_filters(table):
    dusk = [
        (m, {"ev100": 10.0 - 0.25 * m} if m < 2 else worn("n3", even=3, ev100=7.0 - 0.25 * m))
        for m in range(30)
    ]
    assert not any(beyond(measured(table, *dusk)))


def test_a_bare_time_lapse_through_dusk_is_silent(table):
    assert not any(beyond(measured(table, *[(m, {"ev100": 14.0 - 0.25 * m}) for m in range(60)])))


def test_a_filter_taken_off_in_the_midst_of_dusk_is_told(table):
    on = [(m, worn("n10", even=10, ev100=2.0 - 0.25 * m)) for m in range(1, 15)]
    off = [(m, worn("n10", even=10, ev100=12.0 - 0.25 * m)) for m in range(15, 20)]
    assert beyond(measured(table, (0, {"ev100": 12.0}), *on, *off)) == [False] * 15 + [True] * 5


def test_frames_forgotten_among_many_bare_ones_are_told(table):
    rows = [(m, {"ev100": 6.0 if 4 <= m < 7 else 12.0}) for m in range(12)]
    assert beyond(measured(table, *rows)) == [4 <= m < 7 for m in range(12)]


def test_a_wide_grad_does_not_lead_from_a_true_frame_to_a_false_one(table):
    rows = [(0, {"ev100": 12.0}), (1, worn("g3", grad=3, ev100=11.8)), (2, worn("n3", even=3, ev100=12.0))]
    assert beyond(measured(table, *rows)) == [False, False, True]


def test_a_time_lapse_of_thousands_takes_seconds(table):
    long = table([{"ev100": 12.0}] * 6000)
    long["captured_at"] = START + pd.to_timedelta(range(6000), unit="s").as_unit("us")
    start = time.perf_counter()
    add_light(add_scenes(long), Kit())
    assert time.perf_counter() - start < 10


def test_the_drift_that_the_sun_makes_is_taken_out(table):
    """At dusk the light falls by a quarter of a stop a minute: with the sun known, no frame is off."""
    rows = [(m, {"ev100": 8.0 - 0.3 * m, "sky_ev100": 9.0 - 0.3 * m}) for m in (0, 2)]
    rows += [(m, worn("n6", even=6.0, ev100=2.0 - 0.3 * m, sky_ev100=9.0 - 0.3 * m)) for m in (9, 12)]
    blind = [(m, {**row, "sky_ev100": None}) for m, row in rows]
    seen = measured(table, *rows)
    assert seen["light_residual_stops"].abs().max() < 0.01
    assert measured(table, *blind)["light_residual_stops"].abs().max() > 2
    assert seen["scene_light_ev100"].iloc[-1] == pytest.approx(8.0 - 0.3 * 12, abs=0.01)
    assert seen["light_min_ev100"].tolist() == pytest.approx([8.0, 7.4, 5.3, 4.4])
