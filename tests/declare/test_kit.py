from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from audit.model.kit import Body, Filter, Kit, Lens, ScrewIn


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
    both = Lens(id="w", focal_mm=(16, 35), pupil_depth_mm=25, pupil_depth_err_mm=2).pupil
    assert both == (25, 23, 27, ())
    half = Lens(id="w", focal_mm=(16, 35), pupil_depth_mm=25).pupil
    assert half[:3] == (25, 22, 28) and half.assumed == ("error of the pupil depth of w",)
    none = Lens(id="w", focal_mm=(16, 35)).pupil
    assert none[:3] == (25, 20, 32) and none.assumed == ("pupil depth of w",)


def test_a_prime_is_a_single_number() -> None:
    assert Lens.model_validate({"id": "m", "focal_mm": 20}).focal_mm == (20, 20)


def test_things_are_found_by_id(kit: Kit) -> None:
    assert kit.body("B") == Body(name="B", model="Norrlys N6", serial="3009999", clock_ahead_s=95)
    found = [kit.lens("w16"), kit.ring("r77"), kit.between("s72-77"), kit.between("protect77")]
    found += [kit.holder("main"), kit.filter("n10"), kit.hood("h16")]
    assert None not in found
    assert kit.filter("r77") is None


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), True, "10", -1])
def test_no_strength_that_is_no_number(bad: object) -> None:
    with pytest.raises(ValidationError):
        Filter.model_validate({"id": "n", "kind": "neutral", "stops": bad})
