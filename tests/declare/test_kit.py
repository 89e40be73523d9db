from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from audit.kit.kit import Body, Filter, Kit, Lens, ScrewIn
from audit.kit.pupil import PupilDepth


@pytest.mark.parametrize(
    ("given", "stops"),
    [
        ({"kind": "neutral", "stops": 10}, (10, 10)),
        ({"kind": "neutral", "density": 3.0}, (9.966, 9.966)),
        ({"kind": "neutral", "factor": 1000}, (9.966, 9.966)),
        ({"kind": "neutral", "factor": 64}, (6, 6)),
        ({"kind": "grad-hard", "density": 0.9}, (2.990, 2.990)),
        ({"kind": "polariser"}, (1, 2)),
        ({"kind": "polariser", "stops": 1.5}, (1.5, 1.5)),
        ({"kind": "other", "stops": 0}, (0, 0)),
    ],
)
def test_loss_of_a_filter(given: dict[str, Any], stops: tuple[float, float]) -> None:
    part = Filter.model_validate({"id": "f", **given})
    assert part.loss_stops == pytest.approx(stops, abs=5e-4)
    assert part.is_grad == given["kind"].startswith("grad")


def test_a_screw_in_without_kind_costs_nothing() -> None:
    assert ScrewIn(id="p", thread_mm=77).loss_stops == (0, 0)
    assert ScrewIn(id="p", thread_mm=77, kind="polariser").loss_stops == (1, 2)
    with pytest.raises(ValidationError):
        ScrewIn(id="p", thread_mm=77, kind="neutral")


def test_pupil_depth_given_half_given_and_assumed() -> None:
    both = Lens(id="w", focal_mm=(16, 35), pupil_depth_mm=25, pupil_depth_err_mm=2).pupil_at(20)
    assert both == PupilDepth(25, 23, 27, (), calibrated=True)
    half = Lens(id="w", focal_mm=(16, 35), pupil_depth_mm=25).pupil_at(20)
    assert half[:3] == (25, 22, 28) and half.assumed == ("error of the pupil depth of w",)
    none = Lens(id="w", focal_mm=(16, 35)).pupil_at(20)
    assert none[:3] == (24, 17, 32) and none.assumed == ("pupil depth of w",)
    assert (both.calibrated, half.calibrated, none.calibrated) == (True, False, False)


def test_one_measured_depth_holds_for_a_zoom_with_growing_error() -> None:
    lens = Lens(id="w", focal_mm=(16, 35), pupil_depths=((16, 25.0, 0.6),))
    assert lens.pupil_at(16) == PupilDepth(25, 24.4, 25.6, (), calibrated=True)
    away = lens.pupil_at(26)
    assert away[:3] == pytest.approx((25, 23.4, 26.6))
    assert away.assumed == ("pupil depth of w outside the focal lengths measured",)


def test_depths_of_a_zoom_lie_on_a_line() -> None:
    lens = Lens(id="w", focal_mm=(16, 35), pupil_depths=((24, 29.0, 0.8), (16, 25.0, 0.6)))
    assert lens.pupil_at(16)[:3] == pytest.approx((25, 24.4, 25.6))
    assert lens.pupil_at(20)[:3] == pytest.approx((27, 26.3, 27.7))
    assert lens.pupil_at(20).assumed == ()
    far = lens.pupil_at(35)
    assert far.mm == pytest.approx(34.5)
    assert far.high_mm - far.mm > 0.8 + 1.1


def test_depths_off_a_line_widen_the_band_to_hold_them() -> None:
    points = ((16, 25.0, 0.5), (20, 29.0, 0.5), (24, 25.0, 0.5))
    lens = Lens(id="w", focal_mm=(16, 35), pupil_depths=points)
    for focal, depth, _ in points:
        found = lens.pupil_at(focal)
        assert found.low_mm <= depth <= found.high_mm


def test_the_lens_own_drift_goes_with_its_depth() -> None:
    lens = Lens(id="p", focal_mm=(20, 20), pupil_depth_mm=25, pupil_drift_mm=3, pupil_drift_err_mm=0.5)
    assert (lens.pupil_at(20).drift_mm, lens.pupil_at(20).drift_err_mm) == (3, 0.5)
    assert Lens(id="p", focal_mm=(20, 20)).pupil_at(20).drift_mm is None


CALIBRATED = {
    "focal_mm": 16,
    "depth_mm": 25.0,
    "drift_mm": 1.0,
    "growth": 1.8,
    "err": [1.0, 2.0, 0.4, 1.96],
    "together": [-0.9, 0.1, 0.3, 0.0, 0.0, 0.0],
}


def test_what_was_calibrated_stands_for_the_pupil_and_says_where_it_was_not() -> None:
    lens = Lens.model_validate({"id": "w", "focal_mm": [16, 35], "calibrated": [CALIBRATED]})
    found = lens.pupil_at(16, 8)
    assert found[:4] == (25, pytest.approx(24), pytest.approx(26), ())
    assert (found.drift_mm, found.growth, found.calibrated) == (1.0, 1.8, True)
    assert found.told is not None and found.told.covariance[0, 1] < 0
    open_wide = lens.pupil_at(16, 4)
    assert open_wide.assumed == ("pupil of w wide open, where it was not calibrated",)
    assert open_wide.high_mm - open_wide.low_mm > 2
    away = lens.pupil_at(26, 8)
    assert away.assumed == ("pupil depth of w outside the focal lengths measured",)
    assert away.high_mm - away.low_mm > 2


def test_between_two_calibrated_focal_lengths_lies_a_straight_line() -> None:
    other = {**CALIBRATED, "focal_mm": 24, "depth_mm": 29.0, "drift_mm": 2.0}
    lens = Lens.model_validate({"id": "w", "focal_mm": [16, 35], "calibrated": [other, CALIBRATED]})
    middle = lens.pupil_at(20, 8)
    assert middle[:2] == (27, pytest.approx(26)) and middle.drift_mm == 1.5 and middle.assumed == ()


def test_distortion_is_one_number_or_two() -> None:
    one = Lens.model_validate({"id": "p", "focal_mm": 20, "distortion_percent": -2.5})
    assert one.distortion_percent == (-2.5, -2.5)
    two = Lens.model_validate({"id": "z", "focal_mm": [16, 35], "distortion_percent": [-4, 1]})
    assert two.distortion_percent == (-4, 1)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"pupil_depths": [[16, 25, 0.6]], "pupil_depth_mm": 25}, "both given"),
        ({"pupil_depths": []}, r"list of \[focal length, depth, error\]"),
        ({"pupil_depths": [[16, 25]]}, r"list of \[focal length, depth, error\]"),
        ({"pupil_depths": [16, 25, 0.6]}, r"list of \[focal length, depth, error\]"),
        ({"pupil_depths": [[16, 25, 0.6], [16, 26, 0.6]]}, "two depths for one focal length"),
        ({"pupil_depths": [[50, 25, 0.6]]}, "50 mm is no focal length"),
        ({"pupil_depths": [[16, 25, -1]]}, "greater than or equal"),
        ({"pupil_drift_err_mm": 1}, "needs pupil_drift_mm"),
        ({"calibrated": [CALIBRATED], "pupil_depth_mm": 25}, "keep one of them"),
        ({"calibrated": [CALIBRATED, CALIBRATED]}, "two depths for one focal length"),
        ({"calibrated": [{**CALIBRATED, "focal_mm": 50}]}, "50 mm is no focal length"),
        ({"calibrated": [{**CALIBRATED, "together": [0.9, -0.9, 0, 0.9, 0, 0]}]}, "correlations that cannot"),
        ({"distortion_percent": [1, 2, 3]}, "at most 2"),
    ],
)
def test_pupil_keys_that_make_no_sense(keys: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        Lens.model_validate({"id": "w", "focal_mm": [16, 35], **keys})


def test_a_prime_is_a_single_number() -> None:
    assert Lens.model_validate({"id": "m", "focal_mm": 20}).focal_mm == (20, 20)


def test_things_are_found_by_id(kit: Kit) -> None:
    assert kit.body("B") == Body(name="B", model="Brattholm Tarn", serial="3009999", clock_ahead_s=95)
    found = [kit.lens("w16"), kit.ring("r77"), kit.between("s72-77"), kit.between("protect77")]
    found += [kit.holder("main"), kit.filter("n10"), kit.hood("h16")]
    assert None not in found
    assert kit.filter("r77") is None


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), True, "10", -1])
def test_no_strength_that_is_no_number(bad: object) -> None:
    with pytest.raises(ValidationError):
        Filter.model_validate({"id": "n", "kind": "neutral", "stops": bad})
