"""Focal lengths and entrance pupils of a lens that are doubtful."""

from __future__ import annotations

import re
from collections.abc import Iterator

from audit.kit.kit import FOCAL_SLACK, Lens
from audit.kit.readings import written
from audit.message.text import marked, say
from audit.toml.fault import Fault

SLACK_MM = 0.6
"""Names round focal lengths to whole millimetres."""

CONVERTERS = (1.4, 1.7, 2.0, 0.71)
"""What a converter makes of a focal length: common practice, no source."""

SHALLOW_MM, DEEP_MM, DEEP_BY_FOCAL = 4.5, 80.0, 2.5
"""A pupil lies at least so deep in a lens that takes filters, and at most so deep, or so many focal lengths
in a tele: traced wide-angle lenses have 8 to 33 mm (audit/kit/pupil.py), teles from memory, no source."""

LARGEST_ERR = 0.6
"""An error of so much of the depth says less than nothing: without a depth, 24 mm is known to 8: assumed."""

LIKELY_MM = (12.0, 60.0)
"""Where a depth in cm, inches or metres must lie to be believed: assumed."""

PHONE_MM = 10.0
"""Lenses shorter than this may be a phone's, a few millimetres deep in all: common practice, no source."""

_RANGE_MM = re.compile(
    r"(?<![\d./])(\d{1,4}(?:\.\d+)?) ?(?:mm)? ?[-\u2013] ?(\d{1,4}(?:\.\d+)?) ?mm", re.IGNORECASE
)
_ONE_MM = re.compile(r"(?<![\d.])(\d{1,4}(?:\.\d+)?) ?mm", re.IGNORECASE)
_RANGE = re.compile(r"(?<![\d./f])(\d{1,4}(?:\.\d+)?)[-\u2013](\d{2,4}(?:\.\d+)?)(?= |/|$)", re.IGNORECASE)
_OTHERWISE = re.compile(
    r"\d x\b|\b\d(?:\.\d+)?x|\bx ?\d|tc\b|convert|extend|equiv|35 ?mm film", re.IGNORECASE
)
"""Words of a name that make its focal length another one than the lens has alone."""


def lens_faults(lens: Lens) -> Iterator[Fault]:
    """What is doubtful in one lens."""
    if focal := _focal(lens):
        yield focal
    if lens.pupil_depth_mm is not None and (said := _depth(lens, "pupil_depth_mm", lens.pupil_depth_mm)):
        yield said
    err = lens.pupil_depth_err_mm
    if (
        err is not None
        and lens.pupil_depth_mm is not None
        and err > LARGEST_ERR * max(lens.pupil_depth_mm, DEEP_MM / 4)
    ):
        words = marked(
            "{value_written} mm is more than if nothing were known of the lens; leave depth and error out, "
            "or calibrate"
        )
        yield Fault("pupil_depth_err_mm", say(words, value_written=written(err)), "warning")
    for focal_mm, depth, _ in lens.pupil_depths or ():
        if said := _depth(lens, "pupil_depths", depth, focal_mm):
            yield said
            break


def _focal(lens: Lens) -> Fault | None:
    low, high = lens.focal_mm
    named = [named_range(name) for name in lens.exif]
    known = [(name, span) for name, span in zip(lens.exif, named, strict=True) if span is not None]
    if known:
        if any(_within(lens.focal_mm, span) for _, span in known):
            return None
        if high < PHONE_MM and any(low <= span[0] <= high for _, span in known):
            return None  # a phone's lenses under one name
        name, span = known[0]
        words = marked(
            '{value_written} lies outside "{lens_name}"; write focal_mm = {meant_written}, or correct the '
            "name"
        )
        said = {"value_written": _span(low, high), "lens_name": name, "meant_written": _span(*span)}
        return Fault("focal_mm", say(words, **said), "warning")
    if lens.thread_mm is not None and lens.thread_mm >= 30 and high < PHONE_MM and low * 10 >= 8:
        words = marked(
            "{value_written} mm is short for a thread of {thread_written}; if it is in cm, write focal_mm "
            "= {meant_written}"
        )
        said = {"value_written": _span(low, high), "thread_written": written(lens.thread_mm)}
        if high < 5:
            return Fault("focal_mm", say(words, meant_written=_span(low * 10, high * 10), **said), "warning")
    return None


def named_range(name: str) -> tuple[float, float] | None:
    """Shortest and longest focal length that a lens' name tells; None where it tells none beyond doubt."""
    if _OTHERWISE.search(name):
        return None
    for pattern in (_RANGE_MM, _ONE_MM, _RANGE):
        found = {tuple(float(g) for g in match.groups()) for match in pattern.finditer(name)}
        if len(found) == 1:
            one = next(iter(found))
            return (one[0], one[-1]) if 0 < one[0] <= one[-1] else None
        if found:
            return None
    return None


def _within(focal: tuple[float, float], span: tuple[float, float]) -> bool:
    low, high = span[0] * (1 - FOCAL_SLACK) - SLACK_MM, span[1] * (1 + FOCAL_SLACK) + SLACK_MM
    if low <= focal[0] and focal[1] <= high:
        return True
    ratios = focal[0] / span[0], focal[1] / span[1]
    zoom = span[0] < span[1]
    return zoom and any(all(abs(r / c - 1) < 0.03 for r in ratios) for c in CONVERTERS)


def _span(low: float, high: float) -> str:
    return written(low) if low == high else f"[{written(round(low, 2))}, {written(round(high, 2))}]"


def _depth(lens: Lens, key: str, depth: float, focal_mm: float | None = None) -> Fault | None:
    """A pupil in front of its lens, or so shallow or deep that it is in another unit."""
    meant: float | None = None
    if depth < 0:
        words = marked(
            "{value_written} mm would lie before the lens; depths are positive: write {meant_written}?"
        )
        meant = -depth
    elif depth < SHALLOW_MM and lens.focal_mm[1] >= PHONE_MM:
        meant = next(
            (depth * by for by in (10, 25.4, 1000) if LIKELY_MM[0] <= depth * by <= LIKELY_MM[1]), None
        )
        words = marked(
            "{value_written} mm is a shallow pupil; if it is in another unit, write {meant_written}"
        )
        if meant is None:
            words = marked("{value_written} mm is a shallow pupil; measure it again, or leave it out")
            return Fault(key, say(words, value_written=written(depth)), "warning")
    elif depth > max(DEEP_MM, DEEP_BY_FOCAL * (focal_mm or lens.focal_mm[1])):
        words = marked(
            "{value_written} mm is a deep pupil for such a lens; if the point is missing, write "
            "{meant_written}"
        )
        meant = depth / 10
    if meant is None:
        return None
    value = written(round(meant, 3))
    place = f"{key} = {value}" if focal_mm is None else f"[{written(focal_mm)}, {value}, ...]"
    return Fault(key, say(words, value_written=written(depth), meant_written=place), "warning")
