"""The light of a setup: what its drawing and its words say, against numbers worked out by hand."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pandas as pd
import pytest

from audit.report.links import Link
from audit.report.setup_chart import HEIGHT, LEFT, NARROW, SILENT, TOP, LightPoint, SetupChart, setup_chart
from audit.report.setup_light import MOST_NAMED, LightView, judged_scenes, setup_light


def frame(low: float | None, residual: float = 0.0, tolerance: float = 0.6, **more: Any) -> dict[str, Any]:
    """A frame that implies the light `low` (one value), `residual` above its scene."""
    row = {
        "scene": "s1",
        "declaration": "worn",
        "declaration_source": "photographer",
        "light_min_ev100": low,
        "light_max_ev100": low,
        "scene_light_ev100": None if low is None else low - residual,
        "light_residual_stops": residual,
        "light_tolerance_stops": tolerance,
    }
    return row | more


def told(*rows: dict[str, Any], judged: tuple[str, ...] = ()) -> LightView:
    links = [Link(f"frame-{n}", f"N_{n:04d}") for n, _ in enumerate(rows, start=1)]
    return setup_light(rows, links, judged)


def places(path: str) -> list[tuple[float, float]]:
    """Where each part of a path starts, px."""
    return [(float(x), float(y)) for x, y in re.findall(r"M(-?[\d.]+) (-?[\d.]+)", path)]


def height_of(view: LightView, ev100: float) -> float:
    """Where a light lies on the drawing, from two marks of its scale."""
    (y1, ev1), (y2, ev2) = (tuple(map(float, tick)) for tick in view.drawn.light[:2])
    return y1 + (ev100 - ev1) * (y2 - y1) / (ev2 - ev1)


def test_a_frame_off_its_scene_is_a_square_at_its_light() -> None:
    view = told(frame(12.0), frame(15.0, residual=3.0), frame(12.1, residual=0.1))
    assert view.drawn is not None
    (x, top), *others = places(view.drawn.off)
    assert not others
    assert top + 5 == pytest.approx(height_of(view, 15.0), abs=0.1)
    assert [n for _, n in view.drawn.numbers] == ["1", "2", "3"]
    assert x + 5 == pytest.approx(float(view.drawn.numbers[1][0]))
    (_, start), *_ = places(view.drawn.leads)
    assert start == pytest.approx(height_of(view, 12.0 + 0.6), abs=0.1)
    assert [y for _, y in places(view.drawn.fits)] == pytest.approx(
        [height_of(view, 12.0), height_of(view, 12.1)], abs=0.1
    )


def test_its_words_say_which_frame_and_by_how_much() -> None:
    view = told(frame(12.0), frame(15.0, residual=3.0), frame(10.0, residual=-2.0, tolerance=0.5))
    assert view.finding == "2 of 3 frames lie off the light of their scene"
    assert [(o.number, o.link.anchor, o.words) for o in view.off] == [
        (2, "frame-2", "3 stops above the light of its scene (up to 0.6 is normal)"),
        (3, "frame-3", "2 stops below the light of its scene (up to 0.5 is normal)"),
    ]
    assert "EV100 12, where up to 0.5 to 0.6 stops to either side is normal" in view.description
    assert "2 N_0002: 3 stops above" in view.description


def test_frames_that_cannot_be_compared_are_counted_with_the_reason() -> None:
    rows = [
        frame(12.0),
        frame(12.0, scene_light_ev100=None),
        frame(None),
        frame(12.0, declaration="undeclared"),
        frame(None, declaration="no-neutral"),
        frame(12.0, declaration_source="estimate"),
        frame(12.0, scene="alone", scene_light_ev100=None),
    ]
    view = told(*rows, judged=("s1",))
    assert view.finding == (
        "the one frame that can be compared fits the light of its scene; 1 more by which they are judged; "
        "5 more cannot be compared: 1 without a declaration, "
        "1 that a grad or polariser may have darkened, by the declaration, 1 declared by an estimate only, "
        "1 whose exposure does not tell the light, 1 without another frame to compare with"
    )
    assert view.drawn is not None
    assert len(places(view.drawn.silent)) == 5
    assert len(places(view.drawn.gives)) == 1


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([frame(12.0)], "the setup holds one frame"),
        ([frame(None), frame(None)], "no frame was compared (2 whose exposure does not tell the light)"),
        ([frame(12.0), frame(None)], "only 1 of 2 frames can be compared (1 whose exposure does not tell"),
    ],
)
def test_without_a_drawing_the_words_say_why(rows: list[dict[str, Any]], why: str) -> None:
    view = told(*rows)
    assert view.drawn is None
    assert view.finding.startswith("The light is not drawn: ")
    assert why in view.finding


def test_a_setup_with_many_frames_off_names_the_first_and_counts_the_rest() -> None:
    view = told(frame(12.0), *(frame(15.0, residual=3.0) for _ in range(MOST_NAMED + 3)))
    assert len(view.off) == MOST_NAMED
    assert view.more == "and 3 more"
    assert len(places(view.drawn.off)) == MOST_NAMED + 3


def test_a_range_is_drawn_over_all_of_it_and_a_huge_one_stays_on_the_page() -> None:
    view = told(frame(10.0, light_max_ev100=12.0, scene_light_ev100=11.0), frame(11.0))
    (x, top), *_ = places(view.drawn.fits)
    bottom = float(re.search(r"V([\d.]+)", view.drawn.fits)[1])
    assert (top, bottom) == pytest.approx((height_of(view, 12.0), height_of(view, 10.0)), abs=0.1)
    assert x > LEFT
    huge = told(frame(0.0), frame(40.0, residual=40.0))
    assert huge.drawn.height == view.drawn.height == HEIGHT


def test_a_long_setup_grows_wider_and_its_numbers_never_touch() -> None:
    points = [LightPoint.compared(12, 12, 12, 0, 0.5) for _ in range(79)] + [SILENT]
    drawn = setup_chart(points)
    assert drawn.wide
    at = [float(x) for x, _ in drawn.numbers]
    assert all(b - a >= 18 for a, b in pairwise(at))


def boxes_of_words(drawn: SetupChart) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of each text as the template sets it: 12 px, 7.3 px a figure."""
    found = []
    for n, (y, words) in enumerate(drawn.light):
        wide = 7.3 * len(words if n < len(drawn.light) - 1 else f"EV {words}")
        found.append((46 - wide, float(y) + 4 - 9, 46, float(y) + 4 + 1))
    for x, words in drawn.numbers:
        half = 7.3 * len(words) / 2
        found.append((float(x) - half, drawn.height - 5 - 9, float(x) + half, drawn.height - 5 + 1))
    return found


@pytest.mark.parametrize("count", [2, 3, 7, 12, 25, 40, 80, 120])
@pytest.mark.parametrize(
    ("low", "high"), [(12.0, 12.0), (11.6, 12.4), (-3.0, 2.0), (-14.0, 16.0), (0.0, 40.0)]
)
@pytest.mark.parametrize("silent", [0, 1])
def test_no_words_of_the_drawing_touch_or_leave_it(count: int, low: float, high: float, silent: int) -> None:
    """Any number of frames, any range of light: words apart, all of them on the drawing, the data fill it."""
    points = [LightPoint.compared(low, low, low, 0.0, 0.5) for _ in range(count - 1)]
    points += [LightPoint.compared(high, high, low, high - low, 0.5), *[SILENT] * silent]
    drawn = setup_chart(points)
    words = boxes_of_words(drawn)
    for left, top, right, bottom in words:
        assert left >= 0 and top >= 0 and right <= drawn.width and bottom <= drawn.height
    for n, one in enumerate(words):
        for other in words[n + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            assert apart, (one, other)
    assert len(drawn.light) >= 2
    assert drawn.wide == (drawn.width > NARROW)
    assert count + silent > 25 or not drawn.wide, "25 frames fit on a telephone"
    numbers = [float(part) for part in re.findall(r"-?[\d.]+", drawn.band + drawn.scene)]
    assert min(numbers) >= TOP and max(numbers) <= max(drawn.right, drawn.foot)
    if high - low >= 3:
        heights = [y for _, y in places(drawn.fits + drawn.off)]
        assert max(heights) - min(heights) > (drawn.foot - TOP) / 2


def test_a_scene_is_judged_where_a_frame_was_compared() -> None:
    frames = pd.DataFrame({"scene": ["a", "a", "b", None], "scene_light_ev100": [12.0, None, None, 3.0]})
    assert judged_scenes(frames) == {"a"}
