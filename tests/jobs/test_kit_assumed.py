from __future__ import annotations

from audit.jobs.kit_assumed import assumed_lines
from audit.kit.kit import Kit

BODY = {"name": "A", "model": "Brattholm Tarn", "sensor_mm": [35.9, 24.0]}
RING = {"id": "r77", "thread_mm": 77.0, "bore_mm": 74.0, "height_mm": 4.0}
HOLDER = {
    "id": "main",
    "slots": 2,
    "bore_mm": 85.0,
    "base_mm": 7.0,
    "clear_width_mm": 96.0,
    "slot_pitch_mm": 3.2,
}


def kit(lens: dict[str, object], **more: object) -> Kit:
    return Kit.model_validate({"body": [BODY], "lens": [lens], "ring": [RING], "holder": [HOLDER], **more})


def test_a_pupil_that_decides_is_named_with_the_command_that_measures_it() -> None:
    lines = list(assumed_lines(kit({"id": "w24", "thread_mm": 77.0, "focal_mm": 24.0})))
    assert lines[0] == "assumed, at f/8 and the shortest focal lengths: pupil depth of w24"
    assert lines[1].startswith("the pupil depth of w24 would decide about 1 of the 1 rigs at risk")
    assert lines[1].endswith("`cornerstop calibrate`")


def test_nothing_is_said_where_nothing_is_assumed_or_nothing_can_be_worn() -> None:
    known = {
        "id": "w24",
        "thread_mm": 77.0,
        "focal_mm": 24.0,
        "pupil_depth_mm": 25.0,
        "pupil_depth_err_mm": 1.0,
    }
    assert list(assumed_lines(kit(known))) == []
    assert list(assumed_lines(Kit())) == []
    assert list(assumed_lines(kit({"id": "w24", "thread_mm": 77.0, "focal_mm": 24.0}, holder=[]))) == []
