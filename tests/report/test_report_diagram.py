from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from audit.corners.prediction import Prediction
from audit.optics.crop import TURNS, Crop
from audit.report.diagram import LONG_SIDE, CornerDiagram, as_held, describe, draw, drawings, frame_diagrams

ROWS, COLUMNS = 41, 61
SCALE = LONG_SIDE / 36


def losses(half_stop_mm: float, steep: float = 3.0) -> np.ndarray:
    """A map of 36 x 24 mm that loses half a stop at an image height, `steep` stops more each mm beyond."""
    x, y = np.meshgrid(np.linspace(-18, 18, COLUMNS), np.linspace(12, -12, ROWS))
    return np.maximum(0.0, 0.5 + steep * (np.hypot(x, y) - half_stop_mm))


def diagram(worst_mm: float, best_mm: float, **more: Any) -> CornerDiagram:
    maps = (losses(best_mm), losses((best_mm + worst_mm) / 2), losses(worst_mm))
    made = Prediction(50.0, 1.0, 1.0, *maps, (44.0, 44.5, 45.0, 45.5, 47.0), "ring bore", ())
    name = f"{worst_mm} {best_mm}"
    return CornerDiagram(name, 36.0, 24.0, more.pop("orientation", 1), "Corners", prediction=made, **more)


def points(path: str) -> np.ndarray:
    return np.array([[float(n) for n in pair] for pair in re.findall(r"[ML]([\d.]+) ([\d.]+)", path)])


def test_cut_is_to_scale() -> None:
    drawn = draw(diagram(15.0, 19.0), "c1")
    assert (float(drawn.width), float(drawn.height)) == (LONG_SIDE, 100.0)
    for path, radius_mm in ((drawn.maybe_half, 15.0), (drawn.sure_half, 19.0)):
        around = points(path.split("Z", 1)[1]) - (LONG_SIDE / 2, 50.0)
        inner = np.abs(around[:, 0]) < LONG_SIDE / 2 - 0.1
        inner &= np.abs(around[:, 1]) < 49.9
        assert inner.sum() > 10
        assert np.hypot(*around[inner].T) == pytest.approx(radius_mm * SCALE, rel=0.01)


def test_nothing_is_drawn_beyond_the_corner() -> None:
    drawn = draw(diagram(22.0, 30.0), "c1")
    assert not (drawn.maybe_half or drawn.sure_half or drawn.maybe_black or drawn.sure_black)
    assert describe(diagram(22.0, 30.0)).count("Nowhere") == 2
    assert drawn.nothing and not draw(diagram(15.0, 19.0), "c1").nothing
    assert not draw(diagram(21.0, 30.0), "c1").nothing, "what may be lost is drawn"


@pytest.mark.parametrize("orientation", [1, 6])
@pytest.mark.parametrize("ends", [(15.0, 19.0), (5.0, 21.0), (-20.0, -20.0), (21.0, 30.0)])
def test_nothing_leaves_the_drawing(orientation: int, ends: tuple[float, float]) -> None:
    drawn = draw(diagram(*ends, orientation=orientation), "c1")
    for path in (drawn.maybe_half, drawn.sure_half, drawn.maybe_black, drawn.sure_black):
        for x, y in points(path):
            assert 0 <= x <= float(drawn.width) and 0 <= y <= float(drawn.height)


def test_a_frame_without_any_light_is_all_cut() -> None:
    drawn = draw(diagram(-20.0, -20.0), "c1")
    assert drawn.sure_half == "M0 0H150V100H0Z"


def test_words_say_what_is_drawn() -> None:
    assert "It may be that half a stop is lost from 15 mm" in describe(diagram(15.0, 30.0))
    words = describe(diagram(15.0, 19.0))
    assert re.search(r"half a stop is lost from 19 mm outwards, perhaps from 15 mm", words)


def test_equal_diagrams_share_a_drawing() -> None:
    drawn = drawings([diagram(15.0, 20.0), diagram(16.0, 20.0), diagram(15.0, 20.0)])
    assert [d.id for d in drawn.values()] == ["c1", "c2"]


def test_a_frame_without_area_is_a_programmers_error() -> None:
    with pytest.raises(ValueError, match="0"):
        draw(replace(diagram(15.0, 20.0), width_mm=0.0), "c1")


@pytest.mark.parametrize(
    ("orientation", "shown"),
    [
        (1, [[1, 2], [3, 4]]),
        (2, [[2, 1], [4, 3]]),
        (3, [[4, 3], [2, 1]]),
        (4, [[3, 4], [1, 2]]),
        (5, [[1, 3], [2, 4]]),
        (6, [[3, 1], [4, 2]]),
        (7, [[4, 2], [3, 1]]),
        (8, [[2, 4], [1, 3]]),
    ],
)
def test_maps_turn_as_pictures_do(orientation: int, shown: list[list[int]]) -> None:
    assert as_held(np.array([[1.0, 2.0], [3.0, 4.0]]), orientation).tolist() == shown
    assert orientation in TURNS


def test_the_clean_crop_turns_with_the_picture() -> None:
    crop = Crop(0, 0, 300, 200, 0.25)
    made = diagram(15.0, 20.0, crop=crop, size_px=(600, 400))
    assert draw(made, "c1").crop == "M0 0h75v50H0Z"
    upright = draw(replace(made, orientation=6), "c2")
    assert (upright.width, upright.height) == ("100", "150")
    assert upright.crop == "M50 0h50v75H50Z"


def test_frames_get_their_own_prediction(result: Any) -> None:
    found = frame_diagrams(result)
    assert [d is not None for d in found] == [True, True, False, True, True, False, False, True, False, False]
    assert found[0] is not None and found[0].prediction is result.corners["C1"]
    upright = found[3]
    assert upright is not None and (upright.orientation, upright.crop) == (
        6,
        Crop(600, 400, 4800, 3200, 0.64),
    )
