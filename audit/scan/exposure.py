"""Exposure time, f-number and ISO of one file: as written, exact, and where they come from."""

from __future__ import annotations

from audit.message.text import marked, say
from audit.optics import exposure as series
from audit.scan.tags import Tags, left_out

# Outside these a value is a fault of the file, not a setting: common practice, no source.
TIME_RANGE_S = (1e-6, 86_400.0)
ISO_RANGE = (1.0, 10_000_000.0)
APEX_RANGE = (-20.0, 40.0)
APEX_DIFFERENCE_STOPS = 1 / 3  # below it the two ways of writing differ by rounding

APEX = marked("apex")  # the basis of a value that is written in no other way
ISO_OVERFLOW = 65535  # the value did not fit its 16 bits (EXIF 2.3, quoted from memory)

_NO_TIME = left_out(marked("exposure time is written as 0 s"))
_NEITHER = left_out(marked("f/0 and 0 mm: lens without contacts"), about="no contacts")
_NO_APERTURE = left_out(
    marked("f/0: lens without contacts, or an aperture the camera did not learn"), about="no contacts"
)

_REI, _SOS, _SPEED = "RecommendedExposureIndex", "StandardOutputSensitivity", "ISOSpeed"
_SENSITIVITY_TAGS = {_REI: "EXIF RecommendedExposureIndex", _SOS: "EXIF Tag 0x8831", _SPEED: "EXIF ISOSpeed"}
# What PhotographicSensitivity repeats, by SensitivityType (EXIF 2.3, quoted from memory).
_BY_TYPE = {
    1: (_SOS,),
    2: (_REI,),
    3: (_SPEED,),
    4: (_SOS, _REI),
    5: (_SOS, _SPEED),
    6: (_REI, _SPEED),
    7: (_SOS, _REI, _SPEED),
}


def exposure_values(tags: Tags) -> dict[str, object]:
    """Every column of the table that says how the frame was exposed."""
    row = {**_exposure_time(tags), **_f_number(tags), **_iso(tags)}
    row["ev100"] = exposure_value(row)
    return row


def exposure_value(row: dict[str, object]) -> float | None:
    """EV at ISO 100 [stop] from the exact values of a row; None where one of the three is missing."""
    n, t, iso = row.get("f_number_exact"), row.get("exposure_time_exact_s"), row.get("iso")
    if not (isinstance(n, float) and isinstance(t, float) and isinstance(iso, float)):
        return None
    return float(series.ev100(n, t, iso))


def _exposure_time(tags: Tags) -> dict[str, object]:
    low, high = TIME_RANGE_S
    if tags.first("EXIF ExposureTime", "Image ExposureTime") is not None:
        what, names = marked("exposure time"), ("EXIF ExposureTime", "Image ExposureTime")
        ratio = tags.number(*names, what=what, low=low, high=high, zero=_NO_TIME)
        if ratio is None:
            return {}
        time_s = float(ratio)
        exact, basis = series.snap_exposure_time(time_s)
        _compare(tags, what, series.time_value(time_s), "ShutterSpeedValue", apex_range=(-20, 20))
        return {
            "exposure_time_s": time_s,
            "exposure_time_ratio": str(ratio),
            "exposure_time_exact_s": exact,
            "exposure_time_basis": basis,
        }
    tv = _apex(tags, "ShutterSpeedValue")
    if tv is None:
        return {}
    time_s = series.exposure_time_from_time_value(tv)
    if not low <= time_s <= high:
        return {}
    exact = series.snap_exposure_time(time_s)[0]
    return {"exposure_time_s": time_s, "exposure_time_exact_s": exact, "exposure_time_basis": APEX}


def _f_number(tags: Tags) -> dict[str, object]:
    low, high = series.F_NUMBER_RANGE
    names = ("EXIF FNumber", "Image FNumber")
    if tags.first(*names) is not None:
        what = marked("f-number")
        ratio = tags.number(*names, what=what, low=low, high=high, zero=_no_aperture(tags))
        if ratio is None:
            return {}
        exact, basis = series.snap_f_number(float(ratio))
        _compare(tags, what, series.aperture_value(float(ratio)), "ApertureValue", apex_range=(0, 20))
        return {"f_number": float(ratio), "f_number_exact": exact, "f_number_basis": basis}
    av = _apex(tags, "ApertureValue")
    if av is None or not low <= series.f_number_from_aperture_value(av) <= high:
        return {}
    f_number = series.f_number_from_aperture_value(av)
    return {
        "f_number": f_number,
        "f_number_exact": series.snap_f_number(f_number)[0],
        "f_number_basis": APEX,
    }


def _no_aperture(tags: Tags) -> str:
    return _NEITHER if tags.item("EXIF FocalLength", "Image FocalLength") == 0 else _NO_APERTURE


def _apex(tags: Tags, name: str) -> float | None:
    low, high = APEX_RANGE
    value = tags.number(f"EXIF {name}", f"Image {name}", what=f"{name} (APEX)", low=low, high=high)
    return float(value) if value is not None else None


def _compare(tags: Tags, what: str, direct: float, name: str, apex_range: tuple[float, float]) -> None:
    """A note where an APEX value contradicts the direct one; 0 is often a blank and not compared."""
    quiet = Tags(tags.values)
    low, high = apex_range
    apex = quiet.number(f"EXIF {name}", f"Image {name}", what=name, low=low, high=high, zero="")
    if apex is not None and abs(float(apex) - direct) >= APEX_DIFFERENCE_STOPS:
        difference = abs(float(apex) - direct)
        tags.notes.append(
            say(
                "{what} and its {tag_name} (APEX) differ by {difference:.1f} stops: the {what} is used",
                what=what,
                tag_name=name,
                difference=difference,
            )
        )


def _iso(tags: Tags) -> dict[str, object]:
    low, high = ISO_RANGE
    ciff = tags.number("CIFF ISO", what="ISO", low=low, high=high)
    if ciff is not None:
        return {"iso": float(ciff), "iso_source": "CIFF"}
    names = ("EXIF ISOSpeedRatings", "Image ISOSpeedRatings")
    raw = tags.whole(*names)
    if raw is not None and raw != ISO_OVERFLOW:
        value = tags.number(*names, what="ISO", low=low, high=high, zero="")
        if value is not None:
            return {"iso": float(value), "iso_source": "PhotographicSensitivity"}
    return _iso_from_sensitivity(tags, raw)


def _iso_from_sensitivity(tags: Tags, raw: int | None) -> dict[str, object]:
    """ISO from the sensitivity tags of EXIF 2.3, where the 16-bit tag is missing, blank or too small."""
    order = _BY_TYPE.get(tags.whole("EXIF SensitivityType") or 0, ())
    low, high = ISO_RANGE
    for name in (*order, _REI, _SOS, _SPEED):
        value = tags.number(_SENSITIVITY_TAGS[name], what=name, low=low, high=high, zero="")
        if value is not None:
            if raw == ISO_OVERFLOW:
                tags.notes.append(
                    say("ISO did not fit its tag (65535): taken from {tag_name}", tag_name=name)
                )
            return {"iso": float(value), "iso_source": name}
    if raw == ISO_OVERFLOW:
        tags.notes.append(left_out(marked("ISO is written as 65535 (did not fit) and no other tag holds it")))
    elif raw == 0:
        tags.notes.append(left_out(marked("ISO is written as 0")))
    return {}
