"""The planted mistakes lie well beyond the published thresholds, the innocent frames well inside.

Worked out here from the plan with the ray sampler and a handful of sums, not with the audit's formulas.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise, product

import pytest

from audit.demo.camera import View, corner_losses
from audit.demo.gear import BODIES, GLASSES, LENSES, Lens, Rig, even_stops
from audit.demo.plan import TRIP
from audit.demo.schedule import GRAD_SEEN_BY_METER, Frame, day_light, exact_f_number, exposure_ev100, frames
from audit.demo.story import INNOCENT, PLANTED
from audit.demo.take import Scene
from audit.demo.trip import stored_px

DEPTH_BANDS_MM = {"w16": (23.5, 26.5), "s24": (20.0, 32.0), "m24": (20.0, 32.0)}
TYPED_STOPS = {
    "n3": (3, 3), "n6": (6, 6), "n10": (10, 10), "n4": (4, 4), "dusk6": (1.8, 1.8), "old3": (9.966, 9.966),
    "g2soft": (0, 1.993), "g3hard": (0, 3), "pol": (1, 2),
}  # fmt: skip
ALL = [f for f in frames(TRIP) if f.take.odd not in ("torn", "blank")]
LIT_OTHERWISE = ("flash", "composite")
"""Their exposure does not tell the light of the place."""


def _has(frame: Frame, check: str, level: str = "") -> bool:
    stories = [p for tag in frame.take.tags for p in PLANTED.get(tag, ())]
    return any(p.check == check and level in ("", p.level) for p in stories)


def _spared(frame: Frame, check: str) -> bool:
    return any(i.check == check for tag in frame.take.tags for i in INNOCENT.get(tag, ()))


def _worst(scene: Scene, rig: Rig, lens: Lens, depth_mm: float, more_deg: float, growing: bool) -> float:
    """Worst corner with another depth, the corner moved out by some degrees, with or without growth."""
    body = BODIES[scene.body]
    growth = {} if growing else {"radial_growth": 0.0, "tangential_growth": 0.0, "drift_mm": 0.0}
    bundle = replace(lens.bundle(scene.focal_mm, scene.f_number), depth_mm=depth_mm, **growth)
    half = math.hypot(body.width_mm, body.height_mm) / 2 / scene.focal_mm
    scale = math.tan(math.atan(half) + math.radians(more_deg)) / half
    return max(corner_losses(View(body.width_mm * scale, body.height_mm * scale, bundle), rig))


DECLARED = sorted(
    {(f.scene, f.take.says) for f in ALL if f.take.says.state == "worn"}, key=lambda c: (c[0].seed, str(c[1]))
)


@pytest.mark.parametrize(
    ("scene", "rig"), DECLARED, ids=[f"{s.seed}-{i}" for i, (s, _) in enumerate(DECLARED)]
)
def test_corner_verdicts_hold_over_the_whole_band(scene, rig):
    lens = LENSES[scene.lens]
    low, high = DEPTH_BANDS_MM[lens.id]
    assert low <= lens.depth_mm <= high
    best = [_worst(scene, rig, lens, low, -0.5, growing) for growing in (False, True)]
    worst = [_worst(scene, rig, lens, high, 1.5, growing) for growing in (False, True)]
    one = next(f for f in ALL if f.scene == scene and f.take.says == rig)
    if _has(one, "corners", "act") or _has(one, "corners-shown", "look"):
        assert min(best) > 1
    elif _has(one, "corners"):
        assert max(best) < 0.05 and min(worst) > 1
    else:
        assert max(worst) < 0.02


def _implied(frame: Frame) -> tuple[float, float]:
    """Light that the exposure and the declared filters imply, least and most."""
    setting = exposure_ev100(exact_f_number(frame.f_number), frame.exact_s, frame.iso)
    worn = [TYPED_STOPS[g] for g in frame.take.says.glasses]
    base = setting + round(frame.take.bias_stops * 3) / 3
    return base + sum(low for low, _ in worn), base + sum(high for _, high in worn)


def _brighter(frame: Frame) -> float:
    """Stops by which a picture comes out brighter than metered and meant."""
    grads = sum(GLASSES[g].stops for g in frame.take.on.glasses if GLASSES[g].kind == "grad")
    meant = frame.take.bias_stops if frame.take.shutter_s is None else 0.0
    return math.log2(frame.relative_exposure) - even_stops(frame.take.on) - GRAD_SEEN_BY_METER * grads - meant


@pytest.mark.parametrize("scene", TRIP, ids=[str(s.seed) for s in TRIP])
def test_light_implied_by_each_frame(scene):
    counted = [f for f in ALL if f.scene == scene and f.take.says.state in ("worn", "bare")]
    counted = [f for f in counted if f.take.odd not in LIT_OTHERWISE]
    reference = [f for f in counted if f.take.says.state == "bare"]
    for frame in counted:
        low, high = _implied(frame)
        if _has(frame, "too-bright"):
            assert low > 18 and not reference
            continue
        if _has(frame, "exposure-off"):
            assert abs(_brighter(frame)) > 1.5 + 0.1 * 3 + 0.25, frame.id
            continue
        assert abs(_brighter(frame)) < 1.2 or not _spared(frame, "exposure-off"), frame.id
        assert low < 16.5
        others = [f for f in reference if f is not frame]
        if not others:
            continue
        near = min(others, key=lambda f: abs(f.true_time - frame.true_time))
        minutes = abs((near.true_time - frame.true_time).total_seconds()) / 60
        light = _implied(near)[0]
        apart = max(0.0, low - light, light - high)
        tolerance = 1.0 + 0.1 * minutes
        another = _has(frame, "filter-strength", "act")
        if another or _has(frame, "exposure-sum") or _has(frame, "unit-slip"):
            assert apart > tolerance + 1
        elif _has(frame, "filter-strength", "look"):
            assert 0.75 < apart < tolerance  # what the exposures alone leave open
        else:
            assert apart < 0.6 * tolerance, frame.id


def test_a_slip_of_unit_explains_its_frames_and_only_those():
    for typed, meant in ((1.8, 1.8 / math.log10(2)), (3 / math.log10(2), 3.0)):
        assert abs(typed - meant) > 3
    slips = [f for f in ALL if _has(f, "unit-slip")]
    assert {g for f in slips for g in f.take.says.glasses} == {"dusk6", "old3"}
    assert all(f.take.says == f.take.on for f in slips)


def test_long_times_are_as_the_sum_says_or_far_from_it():
    long = [f for f in ALL if f.take.says.glasses == ("n10",) and f.exact_s > 30]
    for frame in long:
        bare = next(f for f in ALL if f.scene == frame.scene and f.take.says.state == "bare")
        off = math.log2(frame.exact_s / bare.exact_s) - 10
        assert off < -1.5 if _has(frame, "bulb-time") else abs(off) < 0.45, frame.id
        assert _has(frame, "bulb-time") != _spared(frame, "bulb-time")


def test_the_light_moves_far_where_an_exposure_was_held_and_hardly_in_its_look_alike():
    for check, least, most in ((_has, 1.1, 2.0), (_spared, 0.0, 0.1)):
        for scene in TRIP:
            run = [f for f in ALL if f.scene == scene and check(f, "light-drift") and f.take.shutter_s]
            if run:
                hours = [f.true_time.hour + f.true_time.minute / 60 for f in (run[0], run[-1])]
                assert least <= abs(day_light(hours[1]) - day_light(hours[0])) <= most


def test_only_large_pictures_have_pixels_small_enough_for_diffraction():
    for frame, small in product(ALL, (True, False)):
        pixel_um = frame.body.width_mm * 1000 / stored_px(frame, small=small)[0]
        airy_px = 2.44 * 0.55 * exact_f_number(frame.f_number) / pixel_um
        if _has(frame, "diffraction"):
            assert frame.f_number >= 16 and airy_px > 3
        elif _spared(frame, "diffraction"):
            assert frame.f_number <= 11 or airy_px < 2


def test_scenes_stand_apart_and_frames_of_one_do_not():
    for label in BODIES:
        run = [f for f in ALL if f.body.label == label]
        for before, after in pairwise(run):
            hundredths = after.sub_second - before.sub_second
            apart = (after.true_time - before.true_time).total_seconds() + hundredths / 100
            pause = apart - before.exact_s
            same = before.scene == after.scene
            assert (0 <= pause <= 540) if same else pause >= 1190, after.id


def test_one_lens_is_never_on_two_bodies_at_once():
    for lens in LENSES:
        run = sorted((f for f in ALL if f.scene.lens == lens), key=lambda f: f.true_time)
        for before, after in pairwise(run):
            if before.body != after.body:
                assert (after.true_time - before.true_time).total_seconds() > 120, after.id


def test_bodies_that_share_a_folder_overlap_in_time_but_on_the_day_of_the_wrong_clock():
    for folder, overlap in (("2025-09-13 Ravnsund", True), ("2025-09-14 Holmfjell", False)):
        times = {b: [f.camera_time for f in ALL if f.folder == folder and f.body.label == b] for b in BODIES}
        assert (min(times["A"]) < max(times["B"]) and min(times["B"]) < max(times["A"])) is overlap


def test_the_gap_and_the_wrap_are_where_the_tags_are():
    run = [f for f in frames(TRIP) if f.body.label == "A"]
    jumps = {b.id: b.counter - a.counter for a, b in pairwise(run) if b.counter != a.counter + 1}
    assert sorted(jumps.values()) == [-9998, 5]
    assert [f.take.gap_before for f in run if f.id in jumps and jumps[f.id] == 5] == [4]
