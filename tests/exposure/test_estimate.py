"""The estimate as a step of the table, on rows whose answer is plain."""

import numpy as np
import pandas as pd
import pytest

from audit.exposure.estimate import add_estimate
from audit.exposure.scenes import add_scenes
from audit.kit.kit import Kit

KIT_FILTERS = [
    {"id": "n3", "kind": "neutral", "stops": 3.0},
    {"id": "n6", "kind": "neutral", "stops": 6.0},
    {"id": "n10", "kind": "neutral", "stops": 10.0},
]
KIT = Kit.model_validate({"holder": [{"id": "main", "slots": 2}], "filter": KIT_FILTERS})
START = pd.Timestamp("2026-05-02 10:00:00")
SILENT = {"declaration": "undeclared", "declaration_source": None, "rig": None}


def row(second, ev, time_s=0.01, **more):
    at = None if second is None else str(START + pd.Timedelta(seconds=second))
    return {"captured_at": at, "ev100": ev, "exposure_time_s": time_s, **SILENT, **more}


def estimate(table, *rows, **more):
    return add_estimate(add_scenes(table(rows)), KIT, **more)


BARE = {"declaration": "bare", "declaration_source": "photographer", "rig": "bare"}
TEN = {"declaration": "worn", "declaration_source": "photographer", "filters": ["n10"], "rig": "ten"}
STEP = [row(0, 11.0), row(20, 11.1), row(120, 1.1, 60.0), row(240, 1.2, 60.0), row(420, 11.2)]


def test_ten_stops_beside_a_declared_frame(table):
    """Bare is sure; ten stops could be the three and the six, a stop off."""
    out = estimate(table, STEP[0] | BARE, *STEP[1:])
    assert out["estimated_stops"].tolist() == [0, 0, 10, 10, 0]
    assert out["estimated_sure"].tolist() == ["sure", "sure", "likely", "likely", "sure"]
    assert out["estimated_class"][2] == "about 10 stops: n10"
    assert out["estimated_words"][2].startswith("ev100 fell 10.0 while the scene held")
    assert out["estimated_words"][2].endswith("1 min at f/8")


def test_ten_stops_are_told_from_the_step_alone_less_surely(table):
    out = estimate(table, *STEP)
    assert out["estimated_stops"].tolist() == [0, 0, 10, 10, 0]
    known = estimate(table, STEP[0] | BARE, *STEP[1:])
    assert (out["estimated_probability"] <= known["estimated_probability"]).all()


@pytest.mark.parametrize("ev", [3.0, 8.0, 13.0])
def test_a_setup_without_change_or_declaration_is_unsure(table, ev):
    out = estimate(table, *(row(20 * i, ev, 0.25) for i in range(12)))
    assert (out["estimated_sure"] == "unsure").all()
    assert (out["estimated_probability"] < 0.8).all()
    if ev < 10:  # thirteen by a clock of ten in the morning is most likely the open lens
        assert out["estimated_class"].str.contains("or about").all()
    assert out["estimated_words"].str.startswith("no step of ev100 and no declaration").all()


def test_brightness_that_leaves_no_room_for_a_filter_is_sure(table):
    out = estimate(table, *(row(20 * i, 15.5, 0.001) for i in range(6)))
    assert (out["estimated_sure"] == "sure").all() and (out["estimated_stops"] == 0).all()


def test_a_declared_filter_leads_from_frame_to_frame(table):
    out = estimate(table, row(0, 1.0, 60.0) | TEN, row(90, 1.1, 60.0), row(300, 11.0), row(320, 11.0))
    assert out["estimated_stops"].tolist() == [10, 10, 0, 0]


def test_the_declaration_can_be_left_out(table):
    rows = [row(20 * i, 8.0, 0.25) | TEN for i in range(6)]
    assert (estimate(table, *rows)["estimated_stops"] == 10).all()
    out = estimate(table, *rows, use_declared=False)
    assert (out["estimated_sure"] == "unsure").all()


def test_an_estimated_declaration_does_not_confirm_itself(table):
    rows = [row(20 * i, 8.0, 0.25) | TEN | {"declaration_source": "estimated"} for i in range(6)]
    assert (estimate(table, *rows)["estimated_sure"] == "unsure").all()


def test_a_bracket_is_judged_by_its_middle(table):
    bracket = [row(40 + i, ev, exposure_mode="auto bracket") for i, ev in enumerate((11.0, 14.0, 8.0))]
    out = estimate(table, STEP[0] | BARE, *bracket, row(60, 11.0))
    assert (out["estimated_stops"] == 0).all()
    assert out["estimated_probability"][1:4].nunique() == 1


def test_nothing_changes_in_a_second(table):
    """Three stops in a second are the light, or the meter; a minute later they may be a filter."""
    quick = estimate(table, row(0, 11.0) | BARE, row(1, 8.0), row(2, 8.0))
    slow = estimate(table, row(0, 11.0) | BARE, row(60, 8.0), row(62, 8.0))
    assert quick["estimated_stops"].tolist() == [0, 0, 0]
    assert slow["estimated_stops"].tolist() == [0, 3, 3]


def test_dusk_that_the_sky_explains_is_no_filter(table):
    rows = [row(0, 6.0) | BARE, *(row(300 * i, 6.0 - i) for i in range(1, 7))]
    sky = (6.0 - np.arange(7.0), np.full(7, -0.2))
    out = estimate(table, *rows, sky=sky)
    assert (out["estimated_stops"] == 0).all()
    alone = estimate(table, *rows)
    assert out["estimated_probability"].iloc[-1] > alone["estimated_probability"].iloc[-1]


def test_a_gap_in_the_sky_is_filled(table):
    rows = [row(0, 12.0) | BARE, *(row(300 * i, 12.0) for i in range(1, 5))]
    known = np.full(5, 14.0)
    gap = np.array([14.0, np.nan, np.nan, 14.0, 14.0])
    whole, part = (estimate(table, *rows, sky=(one, one * 0)) for one in (known, gap))
    pd.testing.assert_frame_equal(whole, part)


def test_a_dark_picture_tells_a_filter_forgotten_in_the_sum(table):
    rows = [row(0, 11.0) | BARE, *(row(60 + 5 * i, 11.0, exposure_program="manual") for i in range(3))]
    dark = np.array([0.0, -6.0, -6.0, -6.0])
    assert estimate(table, *rows)["estimated_stops"].tolist() == [0, 0, 0, 0]
    assert estimate(table, *rows, rendered_stops=dark)["estimated_stops"].tolist() == [0, 6, 6, 6]


def test_frames_without_time_or_exposure_or_with_flash_are_estimated_from_those_beside_them(table):
    out = estimate(
        table,
        STEP[0] | BARE,
        row(None, 11.0),
        row(30, None, None),
        row(40, 3.0, flash_fired=True),
        row(50, 11.0),
    )
    assert (out["estimated_stops"] == 0).all()
    assert out["estimated_words"][3].startswith("no exposure to go by")


def test_row_order_does_not_matter(table):
    frames = add_scenes(table([STEP[0] | BARE, *STEP[1:]]))
    mixed = add_estimate(frames.sample(frac=1, random_state=1), KIT).sort_index()
    pd.testing.assert_frame_equal(mixed, add_estimate(frames, KIT))


def test_two_bodies_share_the_light_and_not_the_filters(table):
    """The second body meters the open scene beside a first one that shows ten stops less all along."""
    at_ten = [row(30 * i, 3.0, 4.0, exposure_program="manual") for i in range(8)]
    other = [
        row(30 * i + 10, 13.0, 1 / 250, body="B", lens="N 50", exposure_program="aperture priority")
        for i in range(8)
    ]
    both, alone = estimate(table, *at_ten, *other), estimate(table, *at_ten)
    first = both[both["body"] != "B"]
    assert (first["estimated_stops"] == 10).all() and (both["estimated_stops"][8:] == 0).all()
    assert (first["estimated_probability"].to_numpy() > alone["estimated_probability"].to_numpy()).all()


def test_no_neutral_declared_anchors_the_light_and_leaves_extras_open(table):
    said = {"declaration": "no-neutral", "declaration_source": "photographer", "rig": None}
    out = estimate(table, STEP[0] | said, *STEP[1:])
    assert out["estimated_stops"].tolist() == [0, 0, 10, 10, 0]
    assert out["estimated_sure"][0] == "sure" and out["estimated_words"][0].startswith("declared")


def test_a_jump_that_nothing_in_the_kit_takes_is_said_and_leaves_doubt(table):
    """Six and a half: three are too few, ten too many."""
    kit = Kit.model_validate(
        {"holder": [{"id": "main", "slots": 2}], "filter": [KIT_FILTERS[0], KIT_FILTERS[2]]}
    )
    rows = [row(0, 12.0) | BARE, row(20, 12.0), row(80, 5.5, 1.0), row(100, 5.5, 1.0)]
    out = add_estimate(add_scenes(table(rows)), kit)
    assert out["estimated_words"][2].startswith(
        "about 6 stops went on here, and nothing in the kit takes that"
    )
    assert out["estimated_sure"][2:].tolist() == ["unsure", "unsure"]


def test_without_an_anchor_no_state_of_a_chain_is_sure(table):
    """Nothing, six, nothing may as well be three, nine, three."""
    rows = [row(60 * i, 4.0 + (0, -6, 0)[i // 4], 1.0) for i in range(12)]
    out = estimate(table, *rows)
    assert not (out["estimated_sure"] == "sure").any()


def test_stars_flash_and_raised_iso_speak_against_a_neutral(table):
    night = [row(30 * i, -5.0, 15.0, f_number=2.8, iso=6400.0, exposure_program="manual") for i in range(6)]
    day = [row(-9000 + 30 * i, 11.0, 0.01, f_number=8.0, iso=100.0) for i in range(3)]
    out = estimate(table, *day, *night)
    assert (out["estimated_stops"] == 0).all()


@pytest.mark.parametrize("kit", [Kit(), KIT])
def test_an_empty_table_and_an_empty_kit(table, kit):
    frames = add_scenes(table(STEP[:1]))
    out = add_estimate(frames.iloc[:0], kit)
    assert "estimated_class" in out and not len(out)
    if not kit.filters:
        assert add_estimate(frames, kit)["estimated_stops"].isna().all()
