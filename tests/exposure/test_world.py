"""The second world of benchmarks/world: reproducible, consistent in itself, and read without mistakes."""

from __future__ import annotations

import sys
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from benchmarks.world import DECLARED, KINDS, WorldTrip, trip
from benchmarks.world.ceiling import best_stops, learn
from benchmarks.world.light import draw_sky
from benchmarks.world.run import frames_of
from benchmarks.world.series import FILE, rows_of

SOME_SEEDS = range(300, 312)


@cache
def shot(seed: int) -> WorldTrip:
    """Trips that several tests look at."""
    return trip(seed)


@pytest.mark.parametrize("declared", DECLARED)
def test_a_seed_makes_the_same_trip_again(declared: str) -> None:
    first, again = trip(7, "any", declared), trip(7, "any", declared)
    assert first.scan_rows == again.scan_rows
    assert first.kit_toml == again.kit_toml
    assert first.declarations == again.declarations
    assert first.slips == again.slips
    assert first.truth.equals(again.truth)
    np.testing.assert_array_equal(first.picture_stops, again.picture_stops)


def test_what_is_declared_changes_nothing_of_what_was_shot() -> None:
    trips = [trip(11, "ordinary", declared) for declared in DECLARED]
    for other in trips[1:]:
        assert other.scan_rows == trips[0].scan_rows
        assert other.truth.equals(trips[0].truth)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_made(kind: str) -> None:
    world = trip(3, kind)
    assert len(world.scan_rows) == len(world.truth) == len(world.picture_stops) > 5
    assert kind in ("any", world.kind)


def test_exposure_light_and_filters_add_up() -> None:
    for seed in SOME_SEEDS:
        truth = shot(seed).truth
        plain = truth[truth["special"] != "flash"]
        left = plain["light_ev100"] - plain["even_stops"] - plain["grad_stops"]
        np.testing.assert_allclose(plain["bright_stops"], left - plain["true_ev100"], atol=1e-9)
        assert (truth["even_stops"] >= truth["neutral_stops"]).all()
        assert (truth["grad_stops"] >= 0).all()


def test_pictures_follow_the_brightness_but_for_what_clips() -> None:
    off = []
    for seed in SOME_SEEDS:
        world = shot(seed)
        bright = world.truth["bright_stops"].to_numpy()
        off.append((world.picture_stops - bright)[np.abs(bright) < 1])
    every = np.concatenate(off)
    every = every[~np.isnan(every)]
    assert abs(np.median(every)) < 0.1
    assert 0.15 < np.std(every) < 0.6


def test_written_exposure_is_the_true_one_rounded() -> None:
    for seed in SOME_SEEDS:
        world = shot(seed)
        written = np.array([row["ev100"] for row in world.scan_rows])
        assert np.abs(written - world.truth["true_ev100"]).max() < 0.35


def test_kinds_keep_their_word() -> None:
    for seed in range(3):
        assert not trip(seed, "no filters").truth["ids"].map(len).any()
        ten = trip(seed, "ten only").truth
        assert (ten["label_stops"].between(9.9, 10.1) | (ten["special"] == "left on")).all()
    left = [t[t["special"] == "left on"] for t in (trip(s, "left on").truth for s in range(3))]
    assert sum(map(len, left)) > 10
    assert all(part["ids"].map(len).all() for part in left)


def test_light_falls_at_dusk_and_ridges_cut_it_quickly() -> None:
    steepest = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        sky = draw_sky(rng, date(2026, 3, 1 + seed % 28), 46.0, 8.0)
        t = np.arange(12 * 3600.0, 20 * 3600.0, 60.0)
        steepest.append(np.abs(np.diff(sky.clear_ev100(t))).max())
        noon, night = sky.clear_ev100(np.array([11.5 * 3600, 23.5 * 3600]))
        assert 12 < noon < 16
        assert night < 0
    assert 0.3 < max(steepest) < 1.5


@pytest.mark.parametrize("seed", [1, 2])
def test_declarations_are_read_without_mistakes(seed: int) -> None:
    world = trip(seed, "left on" if seed == 1 else "two bodies", "all")
    audit = frames_of(world)
    assert audit.mistakes == ()
    assert not [run for run in audit.checks if run.status == "failed"]
    by_frame = audit.frames.set_index("frame")
    for frame, ids in zip(world.truth["frame"], world.truth["ids"], strict=True):
        assert set(by_frame.at[frame, "filters"]) == set(ids)


def test_one_bare_frame_a_setup_is_one_and_bare() -> None:
    world = trip(4, "ordinary", "one bare a setup")
    said = frames_of(world).frames.set_index("frame")["declaration"]
    declared = world.truth[world.truth["frame"].map(said) == "bare"]
    assert len(declared)
    assert not declared["ids"].map(len).any()
    assert not declared.duplicated(["body", "setup"]).any()


def test_slips_are_far_from_the_truth() -> None:
    slips = [slip for seed in range(8) for slip in trip(seed, "any", "all with slips").slips]
    assert len(slips) > 3
    assert all(abs(slip.said_stops - slip.true_stops) > 2.9 for slip in slips)


def test_the_ceiling_is_better_than_saying_nothing_was_on() -> None:
    world = trip(21, "ordinary")
    best = best_stops(learn([trip(seed) for seed in range(700, 712)]), world)
    truth = world.truth.set_index("frame")["label_stops"]
    assert set(best.index) == set(truth.index)
    assert ((best - truth).abs() <= 0.5).mean() > max((truth == 0).mean(), 0.5)


def test_rows_of_a_real_series_hold_what_the_file_says() -> None:
    frame = {"at": "2001-01-03T17:57:01.479", "time_ratio": "1/25", "f_number": 2.2, "iso": None}
    frame |= {"focal_mm": 2.67, "camera": "cam3", "program": None, "mode": 2, "bias": 2.0}
    row = rows_of([frame], "s1")[0]
    assert row["exposure_mode"] == "auto bracket"
    assert row["iso"] is None
    assert "ev100" not in row
    assert FILE.suffix == ".json"
