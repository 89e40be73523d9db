"""The tags of one file turned into the values of one table row."""

from __future__ import annotations

from typing import Any

from audit.message.text import marked, say
from audit.scan.containers.found import MOST_PX, Found
from audit.scan.exposure import exposure_values
from audit.scan.formats import DEVELOPED
from audit.scan.icc import profile_name
from audit.scan.note import Note
from audit.scan.position import position_values
from audit.scan.tags import Tags, as_fraction, in_range, left_out
from audit.scan.times import time_values

# Outside these a value is a fault of the file: common practice, no source.
FOCAL_RANGE_MM = (0.5, 20_000.0)
BIAS_RANGE_STOPS = (-15.0, 15.0)
SENSOR_RANGE_MM = (1.0, 250.0)
DISTANCE_RANGE_M = (0.001, 100_000.0)
PIXEL_RANGE = (1, MOST_PX)
MOST_BITS = 64
UNKNOWN = 0xFFFFFFFF  # EXIF's infinity in a subject distance
MM_PER_UNIT = {
    1: 25.4,
    2: 25.4,
    3: 10.0,
    4: 1.0,
    5: 0.001,
}  # FocalPlaneResolutionUnit; 4 and 5 seen, not in EXIF

_LENS_TAGS = (("EXIF LensModel", "LensModel"), ("Image LensModel", "LensModel"))
_SERIAL_TAGS = (
    *(("EXIF BodySerialNumber", "BodySerialNumber"), ("Image BodySerialNumber", "BodySerialNumber")),
    ("Image Tag 0xC62F", "CameraSerialNumber"),
)

Size = tuple[int, int]

# Words for EXIF's codes (EXIF 2.3, quoted from memory).
PROGRAMS = (
    *(marked("not defined"), marked("manual"), marked("normal program"), marked("aperture priority")),
    *(marked("shutter priority"), marked("creative program"), marked("action program")),
    *(marked("portrait"), marked("landscape")),
)
METERING = (
    *(marked("unknown"), marked("average"), marked("centre-weighted"), marked("spot"), marked("multi-spot")),
    *(marked("pattern"), marked("partial")),
)
EXPOSURE_MODES = (marked("auto"), marked("manual"), marked("auto bracket"))
WHITE_BALANCE = (marked("auto"), marked("fixed"))


def row_values(tags: Tags, found: Found) -> dict[str, object]:
    """Values of a row from its tags and from what the container says (`found`)."""
    row: dict[str, object] = {
        "make": tags.text("Image Make", "EXIF Make"),
        "model": tags.text("Image Model", "EXIF Model"),
        **_told_from(tags, "body_serial", "serial_from", *_SERIAL_TAGS),
        **_lens(tags),
        **time_values(tags),
        **exposure_values(tags),
        **_settings(tags),
        **_focal(tags),
        **_picture(tags, found),
        **position_values(tags),
    }
    row["gps_present"] = _has_position(tags)
    return row


def _lens(tags: Tags) -> dict[str, object]:
    names = ("EXIF LensSpecification", "Image Tag 0xC630")
    ends = [_quiet(tags.item(*names, index=index), FOCAL_RANGE_MM) for index in (0, 1)]
    if ends[0] and ends[1] and ends[0] > ends[1]:
        ends.reverse()
    return {
        **_told_from(tags, "lens", "lens_from", *_LENS_TAGS),
        "lens_serial": tags.text("EXIF LensSerialNumber", "Image LensSerialNumber"),
        "lens_focal_min_mm": ends[0],
        "lens_focal_max_mm": ends[1],
    }


def _told_from(tags: Tags, column: str, source: str, *names: tuple[str, str]) -> dict[str, object]:
    """Text of the first of some tags that holds any, and what that tag is called."""
    for name, called in names:
        text = tags.text(name)
        if text is not None:
            return {column: text, source: called}
    return {column: None, source: None}


def _quiet(raw: Any, bounds: tuple[float, float]) -> float | None:
    """A number if it lies within the bounds; a blank (0/0) here is the rule, not worth a note."""
    number = as_fraction(raw)
    return float(number) if number is not None and in_range(number, *bounds) else None


_NO_FOCAL_LENGTH = left_out(
    marked("0 mm: lens without contacts, or a focal length the camera did not learn"), about="no contacts"
)
_COMPOSITE = {1: False, 2: True, 3: True}
"""EXIF 2.32, tag 0xA460: no composite; a composite; one made while the pictures were taken."""


def _settings(tags: Tags) -> dict[str, object]:
    low, high = BIAS_RANGE_STOPS
    names = ("EXIF ExposureBiasValue", "Image ExposureBiasValue")
    bias = tags.number(*names, what=marked("exposure bias"), low=low, high=high)
    flash = tags.whole("EXIF Flash", "Image Flash")
    return {
        "exposure_bias_stops": float(bias) if bias is not None else None,
        "exposure_program": _word(tags, "ExposureProgram", PROGRAMS),
        "exposure_mode": _word(tags, "ExposureMode", EXPOSURE_MODES),
        "metering": _word(tags, "MeteringMode", METERING),
        "white_balance": _word(tags, "WhiteBalance", WHITE_BALANCE),
        "flash_fired": bool(flash & 1) if flash is not None else None,
        "composite": _COMPOSITE.get(tags.whole("EXIF Tag 0xA460", "EXIF CompositeImage") or 0),
    }


def _word(tags: Tags, name: str, words: tuple[str, ...]) -> str | None:
    code = tags.whole(f"EXIF {name}", f"Image {name}")
    if code is None:
        return None
    return words[code] if 0 <= code < len(words) else say("other ({code})", code=code)


def _focal(tags: Tags) -> dict[str, object]:
    low, high = FOCAL_RANGE_MM
    f_number = tags.item("EXIF FNumber", "Image FNumber")
    zero = "" if f_number == 0 else _NO_FOCAL_LENGTH
    names, what = ("EXIF FocalLength", "Image FocalLength"), marked("focal length")
    focal = tags.number(*names, what=what, low=low, high=high, zero=zero)
    # 0 is EXIF's own word for "unknown" here.
    what = marked("35 mm equivalent")
    equal = tags.number("EXIF FocalLengthIn35mmFilm", what=what, low=1, high=high, zero="")
    low, high = DISTANCE_RANGE_M
    name, what = "EXIF SubjectDistance", marked("subject distance")
    raw = as_fraction(tags.item(name))
    if raw is not None and raw.numerator == UNKNOWN:
        tags.notes.append(marked("subject distance is written as infinity, which is no number of metres"))
        distance = None
    else:
        distance = tags.number(name, what=what, low=low, high=high, zero="")  # 0 is EXIF's "unknown"
    return {
        "focal_length_mm": float(focal) if focal is not None else None,
        "focal_length_35mm": float(equal) if equal is not None else None,
        "subject_distance_m": float(distance) if distance is not None else None,
    }


def _picture(tags: Tags, found: Found) -> dict[str, object]:
    written = _written_size(tags, "EXIF ExifImage")
    size = _size(tags, found, written)
    orientation = tags.number("Image Orientation", what=marked("orientation"), low=1, high=8)
    width_mm, height_mm = _focal_plane(tags, written or size)
    return {
        "width_px": size[0] if size else None,
        "height_px": size[1] if size else None,
        "orientation": int(orientation) if orientation is not None else None,
        "bit_depth": _bits(tags, found),
        "colour_profile": profile_name(found.profile) or _colour_space(tags),
        "focal_plane_width_mm": width_mm,
        "focal_plane_height_mm": height_mm,
    }


def _bits(tags: Tags, found: Found) -> int | None:
    """Of a channel; in a raw file the tag is that of a preview."""
    bits = found.bits or (tags.whole("Image BitsPerSample") if found.format == "TIFF" else None)
    return bits if bits and 0 < bits <= MOST_BITS else None


def _colour_space(tags: Tags) -> str | None:
    """What EXIF names: 1 is sRGB, 65535 "uncalibrated", which may be any other (EXIF 2.3, from memory)."""
    return {1: "sRGB", 0xFFFF: "not sRGB"}.get(tags.whole("EXIF ColorSpace") or 0)


def _size(tags: Tags, found: Found, written: Size | None) -> Size | None:
    """Size of the picture as stored: as the container shows it; for raws the larger, past any preview."""
    shown = (found.width_px, found.height_px) if found.width_px and found.height_px else None
    shown = shown or written or _written_size(tags, "Image Image")
    if written is None or shown is None:
        return shown
    if found.format not in DEVELOPED:
        return max(shown, written, key=lambda size: size[0] * size[1])
    if sorted(written) != sorted(shown):
        words = say(
            "the picture has {width} x {height} px, EXIF says {exif_width} x {exif_height}: "
            "resized or cropped",
            width=shown[0],
            height=shown[1],
            exif_width=written[0],
            exif_height=written[1],
        )
        tags.notes.append(Note(words, "picture size"))
    return shown


def _written_size(tags: Tags, prefix: str) -> Size | None:
    low, high = PIXEL_RANGE
    width, height = tags.whole(f"{prefix}Width"), tags.whole(f"{prefix}Length")
    if width is None or height is None or not (low <= width <= high and low <= height <= high):
        return None
    return width, height


def _focal_plane(tags: Tags, size: Size | None) -> tuple[float | None, float | None]:
    """Sides of the sensor [mm] by the focal-plane resolution, both or none."""
    unit = MM_PER_UNIT.get(tags.whole("EXIF FocalPlaneResolutionUnit") or 2)
    names = ("EXIF FocalPlaneXResolution", "EXIF FocalPlaneYResolution")
    per_unit = [as_fraction(tags.item(name)) for name in names]
    if unit is None or None in per_unit or size is None:
        return None, None
    low, high = SENSOR_RANGE_MM
    sides = [side * unit / float(r) if r else 0.0 for side, r in zip(size, per_unit, strict=True)]
    if not all(low <= side <= high for side in sides):
        if any(per_unit):
            why = marked("focal-plane resolution gives no possible sensor size")
            tags.notes.append(left_out(why, about="sensor size left out"))
        return None, None
    return sides[0], sides[1]


def _has_position(tags: Tags) -> bool:
    """Whether latitude and longitude hold numbers."""
    names = ("GPS GPSLatitude", "GPS GPSLongitude")
    return all(as_fraction(tags.item(name)) is not None for name in names)
