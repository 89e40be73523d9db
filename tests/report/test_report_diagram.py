from __future__ import annotations

import math
from typing import Any

import pytest

from audit.measure.corners import limit_radii_mm
from audit.report.corner_diagrams import frame_diagrams
from audit.report.diagram import LONG_SIDE, CornerDiagram, describe, draw, drawings


def diagram(half: tuple[float, float], black: tuple[float, float] = (math.inf, math.inf)) -> CornerDiagram:
    return CornerDiagram(36.0, 24.0, half, black, "at risk", "Corners")


def test_cut_is_to_scale() -> None:
    drawn = draw(diagram((20.0, 15.0), (21.0, 18.0)), "c1")
    scale = LONG_SIDE / 36
    assert (float(drawn.width), float(drawn.height)) == (LONG_SIDE, 100.0)
    assert f"a{15 * scale:g} {15 * scale:g}" in drawn.maybe_half
    assert f"a{20 * scale:.2f}".rstrip("0") in drawn.sure_half
    assert f"a{18 * scale:g}" in drawn.maybe_black
    assert f"a{21 * scale:g}" in drawn.sure_black


def test_nothing_is_drawn_beyond_the_corner() -> None:
    drawn = draw(diagram((30.0, 21.64)), "c1")
    assert not (drawn.maybe_half or drawn.sure_half or drawn.maybe_black or drawn.sure_black)
    assert "Nowhere" in describe(diagram((30.0, 21.64)))


def test_words_say_what_is_drawn() -> None:
    assert "It may be that half a stop is lost from 15.0 mm outwards." in describe(diagram((30.0, 15.0)))
    words = describe(diagram((20.0, 15.0)))
    assert "It is predicted that half a stop is lost from 20.0 mm outwards, perhaps from 15.0 mm." in words


def test_equal_diagrams_share_a_drawing() -> None:
    one, two = diagram((20.0, 15.0)), diagram((20.0, 16.0))
    drawn = drawings([one, two, diagram((20.0, 15.0))])
    assert [d.id for d in drawn.values()] == ["c1", "c2"]


def test_a_frame_without_area_is_a_programmers_error() -> None:
    with pytest.raises(ValueError, match="0"):
        draw(CornerDiagram(0.0, 24.0, (1.0, 1.0), (1.0, 1.0), "", ""), "c1")


def test_frames_get_the_radii_of_their_own_rig(result: Any) -> None:
    found = frame_diagrams(result)
    assert [d is not None for d in found] == [True, True, False, True, True, False, False, True, False, False]
    first = found[0]
    assert first is not None and (first.width_mm, first.height_mm) == (35.9, 24.0)
    rig = result.rigs[result.frames["rig"].iloc[0]]
    worst, best = limit_radii_mm(rig.openings, 16.0, 11.3137085, result.kit.lenses[0], 0.5)
    assert first.half_stop_radius_mm == (best, worst)
    upright = found[3]
    assert upright is not None and upright.width_mm < upright.height_mm
