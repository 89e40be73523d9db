"""Bodies, lenses and sensors of the frames."""

from __future__ import annotations

from typing import Any

import pytest

from audit.declare import add_gear
from audit.kit.camera_data import diagonal_of
from audit.kit.kit import Body, Kit, Lens
from audit.kit.sensors import Sensor, SensorClues, sensor_of

FULL = (35.9, 24.0)


def frame(name: str, **values: Any) -> dict[str, Any]:
    return {"frame": f"d/{name}", **values}


def bodies(scanned: Any, kit: Kit, *seen: tuple[str | None, str | None], folders: str = "") -> list[Any]:
    rows = [
        {"frame": f"{(folders or 'd' * len(seen))[i]}/N_{i:04d}", "model": model, "body_serial": serial}
        for i, (model, serial) in enumerate(seen)
    ]
    return [label if isinstance(label, str) else None for label in add_gear(scanned(rows), kit)["body"]]


TARN = "Brattholm Tarn"


def test_bodies_by_model_and_serial(scanned: Any, kit: Kit) -> None:
    seen = [(TARN, "3009999"), ("brattholm  tarn", "3001234"), ("Vik 4", "7"), (TARN, "5"), (None, None)]
    assert bodies(scanned, kit, *seen) == ["B", "A", "body C", "body D", None]


def test_bodies_in_order_of_first_frames(scanned: Any) -> None:
    seen = [("Vik 4", None), (TARN, "2"), (TARN, "1"), ("Vik 4", None), (TARN, "2")]
    assert bodies(scanned, Kit(), *seen) == ["body A", "body B", "body C", "body A", "body B"]


def test_a_frame_without_serial_is_of_the_only_body_it_can_be(scanned: Any) -> None:
    assert bodies(scanned, Kit(), (TARN, "1"), (TARN, None)) == ["body A", "body A"]
    two = [(TARN, "1"), (TARN, "2"), (TARN, None), (TARN, None)]
    assert bodies(scanned, Kit(), *two, folders="xyyz") == ["body A", "body B", "body B", "body C"]


def test_a_kit_body_without_serial_is_one_body(scanned: Any) -> None:
    kit = Kit(body=(Body(name="walk", model=TARN),))
    assert bodies(scanned, kit, (TARN, "1"), (TARN, "2"), (TARN, "1")) == ["walk", "body A", "walk"]


def test_clock_of_the_kit(scanned: Any, kit: Kit) -> None:
    rows = [frame("N_0001", body_serial="3009999"), frame("N_0002", model="Vik 4")]
    assert add_gear(scanned(rows), kit)["clock_ahead_s"].fillna(-1).tolist() == [95, -1]


@pytest.mark.parametrize(
    ("values", "lens", "source"),
    [
        ({"lens": "sund  16-35 MM f4"}, "w16", "exif"),
        ({"lens": "Sund70-200/4", "focal_length_mm": 300}, "t70", "exif"),
        ({"lens": "Sund 50 mm", "focal_length_mm": 50}, None, '"Sund 50 mm" is in no exif list of the kit'),
        ({"lens": None, "focal_length_mm": 20}, "w16", "assumed"),
        ({"lens": None, "focal_length_mm": 71}, "t70", "assumed"),
        ({"lens": None, "focal_length_mm": 50}, None, "no lens of the kit fits (50 mm)"),
        ({"lens": None, "focal_length_mm": None, "f_number": None}, "m20", "assumed"),
        ({"lens": None, "focal_length_mm": None}, None, "no lens of the kit fits (no focal length)"),
        ({"model": None, "lens": None}, None, "the file says nothing about the camera"),
        ({"problem": "damaged", "lens": None}, None, "the file says nothing about the camera"),
    ],
)
def test_lens(scanned: Any, kit: Kit, values: dict[str, Any], lens: str | None, source: str) -> None:
    row = add_gear(scanned([frame("N_0001", **values)]), kit).iloc[0]
    assert (row["lens_id"] if lens else None) == lens
    assert row["lens_source"] == source


def test_two_lenses_that_fit_are_not_guessed(scanned: Any) -> None:
    kit = Kit(lens=(Lens(id="a", focal_mm=(16, 35)), Lens(id="b", focal_mm=(24, 70))))
    row = add_gear(scanned([frame("N_0001", lens=None, focal_length_mm=28)]), kit).iloc[0]
    assert row["lens_source"] == "a and b fit (28 mm); name the lens in the span"
    spec = {"lens_focal_min_mm": 24, "lens_focal_max_mm": 70}
    known = add_gear(scanned([frame("N_0001", lens=None, focal_length_mm=28, **spec)]), kit).iloc[0]
    assert (known["lens_id"], known["lens_source"]) == ("b", "assumed")


def sensor(
    kit_mm: tuple[float, float] | None = None,
    px: tuple[float, float] | None = (6000, 4000),
    focal: tuple[float, float] | None = None,
    plane: tuple[float, float] | None = None,
    camera: tuple[str, str] | None = None,
) -> Sensor:
    make, model = camera or (None, None)
    return sensor_of(
        SensorClues(
            make, model, kit_mm, *(px or (None, None)), *(focal or (None, None)), *(plane or (None, None))
        )
    )


def test_sources_in_their_order() -> None:
    everything = {"kit_mm": FULL, "focal": (24, 24), "plane": (36.0, 24.0)}
    assert sensor(**everything)[:4] == (35.9, 24.0, 0.003, "kit")
    assert sensor(focal=(24, 24), plane=(36.0, 24.0))[:4] == (36.0, 24.0, 0.01, "focal-plane resolution")
    equivalent = sensor(focal=(14, 14))
    assert equivalent.source == "35 mm equivalent"
    assert (equivalent.width_mm, equivalent.height_mm) == (36.0, 24.0)
    assert equivalent.err == pytest.approx(0.0357, abs=5e-5)  # half a millimetre of 14
    assert sensor() == (None, None, None, "unknown", None, False)


def test_open_camera_data_by_exact_name_only() -> None:
    """Crop factors 1.6 and 2.0 of lensfun's public camera data; the sides follow from the aspect."""
    found = sensor(camera=("Canon", "Canon EOS 550D"))
    assert found.source == "camera data"
    assert (found.width_mm, found.height_mm) == pytest.approx((22.3, 14.9), rel=0.02)
    four_thirds = sensor(camera=("Olympus", "E-M5"), px=(4608, 3456))
    if four_thirds.source == "camera data":
        assert (four_thirds.width_mm, four_thirds.height_mm) == pytest.approx((17.3, 13.0), rel=0.01)
    assert diagonal_of("Canon", "Canon EOS 550") is None
    assert diagonal_of("", "") is None
    assert sensor(camera=("Canon", "Canon EOS 550"), px=None).source == "unknown"


def test_crop_mode_is_the_area_used() -> None:
    crop = sensor(FULL, focal=(24, 36))
    assert crop.source == "35 mm equivalent"
    assert (crop.width_mm, crop.height_mm) == pytest.approx((24.0, 16.0), rel=1e-3)
    assert crop.note == "crop mode: 35 mm equivalent says 24.0 x 16.0 mm, kit 35.9 x 24.0 mm"
    finer = sensor(FULL, focal=(24, 36), plane=(23.5, 15.7))
    assert (finer.width_mm, finer.source, finer.err) == (23.5, "focal-plane resolution", 0.01)
    assert (finer.note or "").startswith("crop mode: ")


def test_resized_files_leave_the_sensor_alone() -> None:
    resized = sensor(FULL, px=(1500, 1000), focal=(24, 24), plane=(9.0, 6.0))
    assert resized[:2] == FULL
    assert resized.note == "resized: focal-plane resolution says 9.0 x 6.0 mm, kit 35.9 x 24.0 mm"
    without_kit = sensor(px=(1500, 1000), focal=(24, 24), plane=(9.0, 6.0))
    assert without_kit.source == "35 mm equivalent" and without_kit.width_mm == 36.0
    assert (
        without_kit.note
        == "resized: focal-plane resolution says 9.0 x 6.0 mm, 35 mm equivalent 36.0 x 24.0 mm"
    )
    assert sensor(FULL, px=(1500, 1000), plane=(9.0, 6.0)).note is not None


def test_rounding_of_the_equivalent_is_no_disagreement() -> None:
    """9 mm on a 5.6-fold crop is 50.4, written 50; a 4 mm lens written 23 instead of 22.6 is 2 %."""
    assert sensor(FULL, focal=(14, 14.5)).note is None
    assert sensor((6.17, 4.55), px=(4000, 3000), focal=(1.2, 7)).note is None


def test_an_equivalent_that_says_more_than_the_sensor_is_only_noted() -> None:
    odd = sensor((23.5, 15.7), focal=(24, 24))
    assert odd[:2] == (23.5, 15.7)
    assert odd.note == "disagreement: 35 mm equivalent says 36.0 x 24.0 mm, kit 23.5 x 15.7 mm"


@pytest.mark.parametrize(
    ("px", "area"),
    [
        ((6000, 3375), (35.9, 35.9 * 9 / 16)),
        ((4000, 4000), (24.0, 24.0)),
        ((5333, 4000), (32.0, 24.0)),
        ((6000, 4000), FULL),
        ((4000, 6000), FULL),
    ],
)
def test_aspect_in_camera(px: tuple[float, float], area: tuple[float, float]) -> None:
    found = sensor(FULL, px=px)
    assert found[:2] == pytest.approx(area, rel=1e-3)
    assert (found.note is None) == (area == FULL)


def test_aspect_and_equivalent_of_the_whole_sensor_agree() -> None:
    """Cameras write the equivalent of the full sensor or of the cut one; both mean the same picture."""
    assert sensor(FULL, px=(4000, 4000), focal=(24, 24))[:2] == (24.0, 24.0)
    assert sensor(FULL, px=(4000, 4000), focal=(24, 31))[:2] == (24.0, 24.0)


def test_a_picture_stored_upright_has_an_upright_area(scanned: Any, kit: Kit) -> None:
    rows = [
        frame("N_0001", body_serial="3001234", width_px=w, height_px=h)
        for w, h in ((6000, 4000), (4000, 6000))
    ]
    table = add_gear(scanned(rows), kit)
    assert table["sensor_width_mm"].tolist() == [35.9, 24.0]
    assert table["sensor_height_mm"].tolist() == [24.0, 35.9]


def test_times_are_set_right_and_the_raw_time_stays(scanned: Any, kit: Kit) -> None:
    row = add_gear(scanned([frame("N_0001", body_serial="3009999", captured_at="2026-05-02 10:01:35")]), kit)
    assert str(row["captured_at"].iloc[0]) == "2026-05-02 10:00:00"
    assert str(row["clock_at"].iloc[0]) == "2026-05-02 10:01:35"


@pytest.mark.parametrize(("zone", "right"), [(60, 120), (120, 120)])
def test_a_clock_in_another_zone_wrote_that_zone_too(scanned: Any, zone: int, right: int) -> None:
    kit = Kit(body=(Body(name="A", model=TARN), Body(name="B", model="Vik 4", clock_ahead_s=-3600.0)))
    rows = [
        frame("A1", captured_at="2026-05-02 10:00:00", utc_offset_min=120),
        frame("B1", model="Vik 4", captured_at="2026-05-02 09:05:00", utc_offset_min=zone),
    ]
    found = add_gear(scanned(rows), kit).iloc[1]
    assert (str(found["captured_at"]), found["utc_offset_min"]) == ("2026-05-02 10:05:00", right)
