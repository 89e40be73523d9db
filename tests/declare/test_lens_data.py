from __future__ import annotations

from collections.abc import Iterator

import lensfunpy
import numpy as np
import pytest

from audit.kit.camera_data import database
from audit.kit.lens_data import LICENCE, LensData, find_lens, look_up, name_key
from audit.optics.field import FULL_FRAME_DIAGONAL_MM

# Cameras and lenses of the public data, as their files name them.
ZOOM = ("Canon", "Canon EOS 5D Mark IV", "EF16-35mm f/4L IS USM", 16.0, 35.0)
ULTRA_WIDE = ("NIKON CORPORATION", "NIKON Z 7", "NIKKOR Z 14-30mm f/4 S", 14.0, 30.0)
TWO_SENSORS = ("EF24-105mm f/4L IS USM", 24.0, 105.0)


def all_lenses(step: int) -> Iterator[LensData]:
    """Every `step`-th rectilinear lens of the data that can be found by its full name."""
    for lens in list(database().lenses)[::step]:
        found = find_lens("", "", lens.model, lens.min_focal, lens.max_focal)
        if found is not None and found.lens.calib_distortion:
            yield found


def test_lens_by_its_very_name() -> None:
    found = find_lens(*ZOOM)
    assert found is not None
    assert found.name == "Canon EF 16-35mm f/4L IS USM"
    assert found.half_diagonal_mm == pytest.approx(FULL_FRAME_DIAGONAL_MM / 2)
    assert LICENCE in found.source


@pytest.mark.parametrize(
    ("name", "same"),
    [
        ("EF16-35mm f/4L IS USM", "EF 16-35mm F4L IS USM"),
        ("FE 16-35mm F4.0 ZA OSS", "FE 16-35mm f/4 ZA OSS"),
        ("AF-S Nikkor 16-35mm f/4G ED VR", "AF-S NIKKOR 16-35mm f/4G ED VR"),
    ],
)
def test_spelling_does_not_count(name: str, same: str) -> None:
    assert name_key(name) == name_key(same)


def test_other_lenses_are_other_names() -> None:
    names = ["16-35mm f/2.8L", "16-35mm f/2.8L II", "16-35mm f/4L", "16-35mm f/4.5L", "16-35mm f/40L"]
    assert len({name_key(name) for name in names}) == len(names)


@pytest.mark.parametrize(
    "name",
    ["24-105mm", "50mm", "50mm f/1.8", "35mm f/1.7", "16.0-35.0 mm f/4.0", "1:2.8 28mm", "E 50mm F2", "F4"],
)
def test_short_names_may_be_any_lens(name: str) -> None:
    match = look_up("Brattholm", "Brattholm Tarn", name, 50.0, 50.0)
    assert match.data is None
    assert "too short a name" in match.why


@pytest.mark.parametrize("name", ["50mm f/1.8", "35mm f/1.7", "16.0-35.0 mm f/4.0"])
def test_short_names_on_a_known_camera(name: str) -> None:
    match = look_up("NIKON CORPORATION", "NIKON D3S", name, 35.0, 35.0)
    assert match.data is None
    assert "too short a name" in match.why


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        (("Canon", "Canon EOS R", None, 24.0, 105.0), "names no lens"),
        (("Canon", "Canon EOS R", "  ", 24.0, 105.0), "names no lens"),
        (("Canon", "Canon EOS R", "EF24-105mm f/4L IS USM", None, None), "does not say"),
        (("Canon", "Canon EOS R", "EF24-105mm f/4L IS USM", 24.0, 120.0), "another focal range"),
        (("Canon", "Canon EOS R", "EF24-105mm f/4L IS USM", 24.0, 102.0), "another focal range"),
        (("Canon", "Canon EOS R", "EF24-105mm f/4L", 24.0, 105.0), "hold no"),
        (("Brattholm", "Brattholm Tarn", "Brattholm 16-35mm F4", 16.0, 35.0), "hold no"),
        (("NIKON CORPORATION", "NIKON D3S", "EF24-105mm f/4L IS USM", 24.0, 105.0), "does not fit"),
        (("Brattholm", "Brattholm Tarn", "fixed lens", 28.0, 28.0), "several lenses"),
    ],
)
def test_doubt_is_no_lens_and_says_why(asked: tuple[str, ...], why: str) -> None:
    match = look_up(*asked)
    assert match.data is None
    assert why in match.why


def test_fisheye_is_refused() -> None:
    fisheyes = [lens for lens in database().lenses if lens.type == lensfunpy.LensType.FISHEYE]
    assert fisheyes
    found = [look_up("", "", lens.model, lens.min_focal, lens.max_focal) for lens in fisheyes]
    assert all(match.data is None and match.why for match in found)


def test_calibration_of_the_camera_s_sensor() -> None:
    """One lens measured on two sensors: the nearest that covers; on the larger for an unknown camera."""
    small = find_lens("Canon", "Canon EOS 550D", *TWO_SENSORS)
    large = find_lens("Canon", "Canon EOS 5D Mark IV", *TWO_SENSORS)
    unknown = find_lens("Brattholm", "Brattholm Tarn", *TWO_SENSORS)
    assert small and large and unknown
    assert small.half_diagonal_mm == pytest.approx(13.43, abs=0.05)
    assert large.half_diagonal_mm == unknown.half_diagonal_mm == pytest.approx(21.63, abs=0.01)


def test_lens_measured_on_a_smaller_sensor_is_refused() -> None:
    name = "Sigma 10-20mm f/3.5 EX DC HSM"
    match = look_up("NIKON CORPORATION", "NIKON D3S", name, 10.0, 20.0)
    assert match.data is None
    assert "smaller sensor" in match.why


def test_nothing_outside_what_was_measured() -> None:
    found = find_lens(*ZOOM)
    assert found is not None
    assert (
        found.distortion(15.8) is not None and found.distortion(12) is None and found.distortion(40) is None
    )
    assert found.falloff(16, 8, float("inf")) is not None
    assert found.falloff(12, 8, float("inf")) is None
    assert found.falloff(16, 2.8, float("inf")) is None
    assert found.falloff(16, 64, 10) == found.falloff(16, 22, 10)


def test_distortion_is_the_library_s_own() -> None:
    """Against the library's own correction (its Modifier) for a twentieth of all lenses.

    On the calibration's sensor, smaller ones, another aspect and an upright picture: the corner, the middle
    of an edge and a point half way agree to a millionth (the library computes in single precision).
    """
    compared = 0
    for data in all_lenses(20):
        focal = min(entry.focal for entry in data.lens.calib_distortion)
        lens = data.distortion(focal)
        if lens is None:
            continue
        crop = data.lens.crop_factor
        for asked, width, height in ((crop, 3000, 2000), (crop * 1.3, 2000, 3000), (crop * 1.1, 4000, 3000)):
            modifier = lensfunpy.Modifier(data.lens, asked, width, height)
            modifier.initialize(
                focal, 8.0, 1000.0, scale=1.0, pixel_format=np.float32, flags=lensfunpy.ModifyFlags.DISTORTION
            )
            pixel_mm = FULL_FRAME_DIAGONAL_MM / asked / np.hypot(width - 1, height - 1)
            centre = np.array([width - 1, height - 1]) / 2
            for point in ((width - 1, 0), (width - 1, height // 2), (width * 3 // 4, height // 4)):
                bent = modifier.apply_geometry_distortion(*point, 1, 1)[0, 0] - centre
                height_mm = float(np.hypot(*bent)) * pixel_mm
                ideal_mm = float(np.hypot(*(np.array(point) - centre))) * pixel_mm
                if height_mm > 0.98 * data.half_diagonal_mm or _turned_back(
                    lens.terms, ideal_mm / lens.unit_mm
                ):
                    continue
                tangent = float(lens.tangent(height_mm, focal))
                assert tangent == pytest.approx(ideal_mm * lens.terms[0] / focal, rel=1e-6), data.name
                compared += 1
    assert compared > 300


def _turned_back(terms: tuple[float, ...], ideal: float) -> bool:
    """Whether a polynomial has stopped rising before this height: data that fold the picture."""
    slopes = [
        sum(k * term * at ** (k - 1) for k, term in enumerate(terms, 1)) for at in np.linspace(0, ideal, 50)
    ]
    return min(slopes) < 0.1 * terms[0]


@pytest.mark.parametrize("crop", [1.0, 1.3, 1.6])
@pytest.mark.parametrize("setting", [(16.0, 4.0, 1000.0), (20.0, 5.0, 3.0), (35.0, 22.0, 0.5)])
def test_falloff_is_the_library_s_own(crop: float, setting: tuple[float, float, float]) -> None:
    """Against the library's own correction of a white picture, in the corner of three sensors."""
    data = find_lens(*ZOOM)
    assert data is not None
    modifier = lensfunpy.Modifier(data.lens, crop, 301, 201)
    modifier.initialize(*setting, scale=1.0, pixel_format=np.float32, flags=lensfunpy.ModifyFlags.VIGNETTING)
    white = np.ones((201, 301, 3), np.float32)
    assert modifier.apply_color_modification(white)
    falloff = data.falloff(*setting)
    assert falloff is not None
    loss = float(falloff.loss_stops(FULL_FRAME_DIAGONAL_MM / 2 / crop))
    assert loss == pytest.approx(float(np.log2(white[0, 0, 0])), abs=2e-3)


def test_every_lens_of_the_data_rises_over_its_sensor() -> None:
    for data in all_lenses(5):
        for focal in {entry.focal for entry in data.lens.calib_distortion}:
            lens = data.distortion(focal)
            if lens is not None:
                tangent = lens.tangent(np.linspace(0, data.half_diagonal_mm, 40), focal)
                assert (np.diff(tangent) > 0).all(), (data.name, focal)


def test_focal_length_on_the_axis() -> None:
    """1 - a - b - c of the data at 14 mm (0.0076, -0.0551, 0.0113) is 1.0362."""
    data = find_lens(*ULTRA_WIDE)
    assert data is not None
    assert data.paraxial_focal_mm(14) == pytest.approx(14 * 1.0362, abs=1e-3)
    assert data.paraxial_focal_mm(50) == 50


def test_aspect_of_the_calibration_s_sensor() -> None:
    """Measured on a 4:3 sensor, as the data say and lensfunpy does not pass on; 3:2 where they are silent."""
    four_thirds = find_lens("", "", "Olympus M.Zuiko Digital ED 12-40mm f/2.8 Pro", 12.0, 40.0)
    usual = find_lens(*ZOOM)
    assert four_thirds and usual
    assert four_thirds.aspect == pytest.approx(4 / 3)
    assert usual.aspect == 1.5
