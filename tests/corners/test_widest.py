"""The widest clear focal length is where clear begins, at each end of the band."""

import math
from dataclasses import replace

import pytest

from audit.corners.predict import Geometry, predict
from audit.corners.prediction import CLEAR_STOPS
from audit.corners.widest import FLOOR, TOLERANCE, widest_clear, widest_clear_middle_mm
from audit.declare import build_rig
from audit.declare.rig import Opening, Rails, Rig
from audit.declare.worn import Worn
from audit.kit.kit import Kit, Lens

HALF_DIAGONAL = math.hypot(36.0, 24.0) / 2
KIT = Kit.model_validate(
    {
        "ring": [{"id": "r77", "thread_mm": 77}, {"id": "low", "thread_mm": 77, "kind": "recessed"}],
        "holder": [{"id": "main", "slots": 2, "front_ring_mm": 98}, {"id": "small", "slots": 3}],
        "filter": [{"id": "pol", "kind": "polariser", "round": True}],
    }
)
LENS = Lens(id="w", focal_mm=(10.0, 50.0), pupil_depth_mm=25.0, pupil_depth_err_mm=1.0)
WORN = [
    Worn(ring="r77"),
    Worn(ring="low", holder="main", front="pol"),
    Worn(ring="r77", holder="main", second_holder="small", second_turn_deg=30.0),
]


def frame(f_number):
    return lambda focal: Geometry(focal, f_number, 36.0, 24.0)


@pytest.mark.parametrize("worn", WORN)
@pytest.mark.parametrize(("f_number", "lens"), [(2.8, None), (22.6, LENS)])
def test_clear_begins_there(worn, f_number, lens):
    rig = build_rig(worn, KIT)
    found = widest_clear(rig, frame(f_number), HALF_DIAGONAL, lens)
    ends = {"best_mm": "loss_min_stops", "middle_mm": "loss_stops", "worst_mm": "loss_max_stops"}
    for end, loss in ends.items():
        focal = getattr(found, end)
        assert getattr(predict(rig, frame(f_number)(focal), lens), loss) < CLEAR_STOPS
        wider = focal / (1 + 2 * TOLERANCE)
        assert getattr(predict(rig, frame(f_number)(wider), lens), loss) >= CLEAR_STOPS
    assert found.best_mm < found.middle_mm < found.worst_mm
    assert widest_clear_middle_mm(rig, frame(f_number), HALF_DIAGONAL, lens) == found.middle_mm


def test_a_deeper_pupil_and_a_standard_ring_need_a_longer_lens():
    def widest(worn, depth):
        lens = LENS.model_copy(update={"pupil_depth_mm": depth})
        return widest_clear_middle_mm(build_rig(worn, KIT), frame(8.0), HALF_DIAGONAL, lens)

    assert widest(WORN[0], 20.0) < widest(WORN[0], 25.0) < widest(WORN[0], 32.0)
    assert widest(Worn(ring="low", holder="main"), 25.0) < widest(Worn(ring="r77", holder="main"), 25.0)


def test_nothing_in_front_is_clear_at_any_and_a_keyhole_at_none():
    bare = widest_clear(Rig("bare", ""), frame(8.0), HALF_DIAGONAL, LENS)
    assert bare.best_mm == bare.worst_mm == bare.floor_mm == FLOOR * HALF_DIAGONAL
    keyhole = Rig("worn", "", openings=(Opening("hole", 4.0, 30.0),))
    assert widest_clear(keyhole, frame(1.4), HALF_DIAGONAL, LENS).best_mm == math.inf


def test_rails_count_too():
    rails = Rig("worn", "", rails=(Rails("rails", 60.0, 20.0),))
    narrow = Rig("worn", "", rails=(replace(rails.rails[0], clear_width_mm=50.0),))
    wide_mm, narrow_mm = (
        widest_clear_middle_mm(rig, frame(8.0), HALF_DIAGONAL, LENS) for rig in (rails, narrow)
    )
    assert FLOOR * HALF_DIAGONAL < wide_mm < narrow_mm
