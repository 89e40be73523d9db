"""The rig from the side: every part where it is, in its order and to scale."""

from __future__ import annotations

import re

import pytest

from audit.declare import build_rig
from audit.declare.worn import Worn
from audit.kit.kit import Kit
from audit.report.rig_side import PX_A_MM, RigSide, rig_side

KIT = Kit.model_validate(
    {
        "ring": [{"id": "r77", "thread_mm": 77, "height_mm": 4, "bore_mm": 74}],
        "holder": [{"id": "main", "slots": 2, "bore_mm": 87, "base_mm": 7, "slot_pitch_mm": 3}],
        "filter": [
            {"id": "n6", "kind": "neutral", "stops": 6},
            {"id": "g2", "kind": "grad-soft", "stops": 2},
        ],
    }
)


def drawn(**keys: object) -> RigSide:
    side = rig_side(build_rig(Worn.model_validate({"files": ("X",), **keys}), KIT), KIT)
    assert side is not None
    return side


def boxes(path: str) -> list[tuple[float, ...]]:
    """Left, top, right, bottom of each box of a path, px."""
    found = re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-[\d.]+z", path)
    return [(x, y, x + w, y + h) for x, y, w, h in (tuple(map(float, box)) for box in found)]


def test_parts_stand_in_their_order_and_inside_the_drawing() -> None:
    side = drawn(ring="r77", holder="main", slots=("n6", "g2"))
    lens, metal = boxes(side.lens), boxes(side.solid)
    plates = sorted(boxes(side.dark) + boxes(side.clear))
    for left, top, right, bottom in lens + metal + plates:
        assert 0 <= left < right <= float(side.width) and 0 <= top < bottom <= float(side.height)
    ring, holder, rails = (max(box[2] for box in metal[n : n + 2]) for n in (0, 2, 4))
    assert lens[0][2] < ring < holder < rails
    assert ring - lens[0][2] == pytest.approx(4 * PX_A_MM, abs=0.2)
    assert rails - ring == pytest.approx((7 + 2 * 3) * PX_A_MM, abs=0.2)
    assert all(holder <= box[0] and box[2] <= rails for box in plates)


def test_the_opening_is_left_free() -> None:
    top, bottom = boxes(drawn(ring="r77", holder="main").solid)[:2]
    assert bottom[1] - top[3] == pytest.approx(74 * PX_A_MM, abs=0.2)


@pytest.mark.parametrize(("turn_deg", "dark_is_above"), [(0, True), (180, False)])
def test_a_grad_is_dark_where_it_is_dense(turn_deg: int, dark_is_above: bool) -> None:
    side = drawn(ring="r77", holder="main", slots=("g2",), turn_deg=turn_deg)
    (dark,), (clear,) = boxes(side.dark), boxes(side.clear)
    assert (dark[1] < clear[1]) is dark_is_above


def test_a_bare_lens_is_not_drawn() -> None:
    assert rig_side(build_rig(Worn.model_validate({"files": ("X",), "bare": True}), KIT), KIT) is None
