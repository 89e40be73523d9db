"""Corners over many compositions: found together, with chance and power told; repeats count once."""

import cut_pairs
import foreign
import numpy as np
import pytest
from cut_pairs import smooth_cut, smooth_loss
from PIL import Image

from audit.demo.scene import LOOKS, paint
from audit.pixels.compositions import distinct, fingerprint, likeness, outline_of
from audit.pixels.stack import COUNTS, POWER, corner_contrasts, lens_stops, stack_loss, threshold


def painted(number, loss=0.0, hour=None, stops=0.0):
    look, curve = list(LOOKS)[number % 5], list(foreign.CURVES)[number % 6]
    light = paint(look, 50 + number, 320, 214, hour or (8.0, 12.0, 17.0)[number % 3], 0.0) * 0.15 * 2**stops
    return foreign.grey(
        foreign.photograph(light * smooth_loss(light.shape, loss)[..., None], curve, seed=number)
    )


def together(greys):
    return stack_loss(np.array([corner_contrasts(grey) for grey in greys]))


def test_a_stop_shows_over_twenty_compositions_and_none_where_none_is_cut():
    assert together([painted(n, 1.0) for n in range(20)]).seen
    plain = together([painted(n) for n in range(20)])
    assert not plain.seen
    assert plain.count == 20
    assert plain.words == "20 compositions would show 1 stop, not surely half a stop"


def test_a_horizon_and_falloff_with_the_square_of_the_image_height_cancel():
    grey = np.full((214, 320), 200, np.uint8)
    grey[110:] = 60
    assert corner_contrasts(grey) == pytest.approx(np.zeros(4), abs=1e-9)
    light = np.full((428, 640, 3), 0.3) * (2.0 ** (-1.5 * cut_pairs.radius((428, 640)) ** 2))[..., None]
    contrasts = corner_contrasts(foreign.grey(foreign.photograph(light, "soft", seed=1, quality=95)))
    assert np.abs(contrasts).max() < 0.2


def test_a_white_corner_says_nothing_and_a_black_one_says_dark():
    grey = np.full((214, 320), 120, np.uint8)
    grey[:20, :30], grey[:20, -30:] = 255, 0
    top_left, top_right, *bottom = corner_contrasts(grey)
    assert np.isnan(top_left)
    assert top_right > 2
    assert bottom == [0, 0]


def test_few_compositions_are_not_judged():
    few = together([painted(n, 4.0) for n in range(2)])
    assert not few.seen
    assert few.words == "2 compositions: 3 different ones are needed"
    assert stack_loss(np.empty((0, 4))).count == 0
    unknown = np.full((9, 4), np.nan)
    assert stack_loss(unknown).count == 0


def test_the_threshold_falls_with_the_number_and_the_power_grows():
    limits = [threshold(count) for count in range(3, 60)]
    assert limits == sorted(limits, reverse=True)
    assert limits[-1] == 0.25
    for _, shares in POWER:
        assert len(shares) == len(COUNTS)
    assert stack_loss(np.zeros((5, 4))).words == "5 compositions would show 2 stops, not surely 1 stop"


def test_repeats_of_a_composition_count_once():
    greys = [painted(n, hour=9 + 0.5 * again, stops=again - 1) for n in range(6) for again in range(3)]
    dark = [smoothly_darker(grey) for grey in greys]
    for some in (greys, dark):
        assert distinct([outline_of(grey) for grey in some]) == [0, 3, 6, 9, 12, 15]
    flat = fingerprint(np.full((200, 300), 90, np.uint8))
    assert not flat.any()
    even = outline_of(np.full((200, 300), 90, np.uint8))
    assert distinct([even, even]) == []
    assert fingerprint(greys[0]).shape == fingerprint(np.rot90(greys[0])).shape == (108,)


@pytest.mark.parametrize("number", range(5))
def test_near_identical_frames_of_one_subject_are_one_composition(number):
    """Hand-held: each frame is a window of one picture, up to a tenth apart, turned and nearer or farther."""
    rng = np.random.default_rng(number)
    grey = Image.fromarray(painted(number))
    frames = []
    for _ in range(9):
        turned = grey.rotate(rng.uniform(-1, 1), Image.Resampling.BICUBIC)
        wide, high = (0.7 * rng.uniform(0.97, 1.03) * n for n in grey.size)
        left, top = (
            (n - w) / 2 + 0.05 * n * rng.uniform(-1, 1) for n, w in zip(grey.size, (wide, high), strict=True)
        )
        frames.append(
            np.asarray(turned.crop((round(left), round(top), round(left + wide), round(top + high))))
        )
    assert distinct([outline_of(frame) for frame in frames]) == [0]


def test_other_scenes_stay_compositions_of_their_own():
    outlines = [outline_of(painted(n)) for n in range(20)]
    assert len(distinct(outlines)) >= 19
    assert likeness(outlines[0], outlines[0]) == pytest.approx(1.0)
    assert likeness(outlines[0], outlines[1]) < 0.75
    upright = outline_of(np.rot90(painted(0)))
    assert distinct([outlines[0], upright]) == [0, 1]


def falling_off(number, stops):
    light = paint(list(LOOKS)[number % 5], 50 + number, 320, 214, 12.0, 0.0) * 0.15
    light = light * np.float32(2.0) ** (-stops * cut_pairs.radius(light.shape) ** 6)[..., None]
    return foreign.grey(foreign.photograph(light, list(foreign.CURVES)[number % 6], seed=number))


def test_the_fall_off_of_a_wide_open_lens_is_allowed_for():
    contrasts = np.array([corner_contrasts(falling_off(n, 2.5)) for n in range(20)])
    assert stack_loss(contrasts).seen
    wide_open = stack_loss(contrasts, lens_stops(2.8))
    assert not wide_open.seen
    assert wide_open.words == "20 compositions would show 2 stops, not surely 1 stop"
    assert lens_stops(8.0) == lens_stops(16.0) == 0.25 < lens_stops(4.0) < lens_stops(2.8) == lens_stops(1.2)
    rig = np.array([corner_contrasts(painted(n, 4.0)) for n in range(20)])
    assert stack_loss(rig, lens_stops(2.8)).seen


def smoothly_darker(grey):
    return (grey * smooth_loss(grey.shape, 6.0, 0.8) ** 0.5).astype(np.uint8)


def test_two_stops_show_over_real_photographs():
    if not cut_pairs.PHOTOGRAPHS.is_dir():
        pytest.skip("no photographs beside the project (../shared/photos)")
    photographs = [codes for _, codes in cut_pairs.photographs("ground")][1::3]
    assert not together([smooth_cut(codes, n, 0.0) for n, codes in enumerate(photographs)]).seen
    assert together([smooth_cut(codes, n, 2.0) for n, codes in enumerate(photographs)]).seen
