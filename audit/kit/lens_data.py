"""Distortion and falloff of a lens from the open lens data that lensfunpy carries.

A lens is taken only where nothing else can be meant: the very name, the focal range the file writes, and
one calibration (or several alike) that covers the camera's sensor. A loose match gives the wrong lens for a
third of short names, which is worse than none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple
from xml.etree import ElementTree

import lensfunpy
import pandas as pd

from audit.kit.camera_data import database, diagonal_of, mounts_of
from audit.message.text import marked, say
from audit.optics.distortion import Distortion
from audit.optics.falloff import COVERED, Falloff
from audit.optics.field import FULL_FRAME_DIAGONAL_MM, sides_from_diagonal_mm

NAMES = ["make", "model", "lens"]


def lens_optics(frames: pd.DataFrame) -> dict[tuple[str, str, str], LensData]:
    """Lens data by make, model and lens name as written, for the lenses that are found beyond doubt."""
    found = {}
    lenses = frames[[*NAMES, "lens_focal_min_mm", "lens_focal_max_mm"]].dropna().drop_duplicates(NAMES)
    for make, model, lens, shortest_mm, longest_mm in lenses.itertuples(index=False):
        data = find_lens(make, model, lens, shortest_mm, longest_mm)
        if data is not None:
            found[make, model, lens] = data
    return found


LICENCE = "CC BY-SA 3.0"
"""Licence of the data, as the lensfun project states it for its database; the code around it has others."""

FOCAL_TOLERANCE = 0.02
"""A focal range that agrees with the file's, relative; a setting this far outside the data still counts."""

FAR_M = 1000.0
"""What the data call infinity (their farthest calibrations are entered so)."""

USUAL_ASPECT = "3:2"
"""Aspect of the calibration's sensor where the data name none (lensfun manual, "aspect-ratio")."""


@dataclass(frozen=True)
class LensData:
    """A lens of the open lens data; `half_diagonal_mm` and `aspect` are its calibration's sensor."""

    name: str
    half_diagonal_mm: float
    aspect: float
    lens: Any = field(repr=False, compare=False)
    licence: str = LICENCE

    @property
    def source(self) -> str:
        """Where its values come from, with the data's licence, to be shown beside them."""
        words = marked("{lens_name}, lensfun lens data ({licence_name})")
        return say(words, lens_name=self.name, licence_name=self.licence)

    @property
    def measured(self) -> tuple[object, ...]:
        """All that distortions follow from, the library that goes between them included."""
        points = tuple(
            (c.model.name, float(c.focal), *map(float, c.terms)) for c in self.lens.calib_distortion
        )
        return lensfunpy.__version__, self.half_diagonal_mm, self.aspect, float(self.lens.crop_factor), points

    def distortion(self, focal_length_mm: float) -> Distortion | None:
        """Distortion at a focal length, or None where it was not measured."""
        measured = self.lens.calib_distortion
        if not _covers([c.focal for c in measured], focal_length_mm) or len({c.model for c in measured}) > 1:
            return None  # between two models there is nothing to interpolate
        found = self.lens.interpolate_distortion(float(focal_length_mm))
        if found is None or found.model == lensfunpy.DistortionModel.NONE:
            return None
        short = float(sides_from_diagonal_mm(2 * self.half_diagonal_mm, self.aspect)[1])
        terms = tuple(float(term) for term in found.terms)
        return Distortion.from_model(
            found.model.name.lower(), terms, short / 2, COVERED * self.half_diagonal_mm
        )

    def paraxial_focal_mm(self, focal_length_mm: float) -> float:
        """Focal length on the axis that the distortion was fitted with; the nominal one without data.

        Source: lensfun manual, lfLensCalibDistortion::RealFocal: for ptlens and poly3 the nominal focal
        length times the coefficient of the linear term, which is the focal length that the fit assumed.
        """
        distortion = self.distortion(focal_length_mm)
        return focal_length_mm * (distortion.terms[0] if distortion is not None else 1.0)

    def falloff(self, focal_length_mm: float, f_number: float, distance_m: float) -> Falloff | None:
        """Falloff at a setting, interpolated by the library, or None where it was not measured.

        An f-number beyond the smallest aperture measured is like that aperture: nothing changes any more.
        """
        measured = self.lens.calib_vignetting
        if not _covers([c.focal for c in measured], focal_length_mm):
            return None
        apertures = [c.aperture for c in measured]
        if f_number < min(apertures) * (1 - FOCAL_TOLERANCE):
            return None
        f_number = min(max(float(f_number), min(apertures)), max(apertures))
        found = self.lens.interpolate_vignetting(float(focal_length_mm), f_number, min(distance_m, FAR_M))
        if found is None or found.model != lensfunpy.VignettingModel.PA:
            return None
        k1, k2, k3 = (float(term) for term in found.terms[:3])
        return Falloff(k1, k2, k3, self.half_diagonal_mm)


class Match(NamedTuple):
    """A lens found, or in words why none was."""

    data: LensData | None
    why: str


def find_lens(
    make: str | None,
    model: str | None,
    lens_name: str | None,
    focal_min_mm: float | None,
    focal_max_mm: float | None,
) -> LensData | None:
    """The lens that a file names, or None where the name, the focal range or the data leave a doubt."""
    return look_up(make, model, lens_name, focal_min_mm, focal_max_mm).data


@lru_cache(maxsize=256)
def look_up(
    make: str | None,
    model: str | None,
    lens_name: str | None,
    focal_min_mm: float | None,
    focal_max_mm: float | None,
) -> Match:
    """As `find_lens`, with the reason where there is none. Names and ranges as the file writes them."""
    if not lens_name or not lens_name.strip():
        return Match(None, "the file names no lens")
    if not focal_min_mm or not focal_max_mm:
        return Match(None, "the file does not say the lens' focal range")
    key = name_key(lens_name)
    camera_mounts = mounts_of(make or "", model or "")
    if len(_letters(key)) < (1 if camera_mounts else 3):
        return Match(None, f'"{lens_name}" is too short a name: it may be any lens of such a focal length')
    named = _by_name().get(key, [])
    if not named:
        return Match(None, f'the lens data hold no "{lens_name}"')
    if not camera_mounts and len({(c.lens.maker, c.lens.model) for c in named}) > 1:
        return Match(None, f'"{lens_name}" names several lenses, and the camera is not in the data')
    fitting = [c for c in named if _same_range(c.lens, focal_min_mm, focal_max_mm)]
    if not fitting:
        return Match(None, f'"{lens_name}" of the lens data has another focal range than the file says')
    mounted = [c for c in fitting if not camera_mounts or camera_mounts.intersection(c.lens.mounts)]
    if not mounted:
        return Match(None, f'"{lens_name}" of the lens data does not fit this camera')
    return _one_of(mounted, diagonal_of(make or "", model or ""), lens_name)


class _Entry(NamedTuple):
    """A lens of the data with what lensfunpy does not pass on."""

    lens: Any
    aspect: float


def _one_of(entries: list[_Entry], diagonal_mm: float | None, lens_name: str) -> Match:
    """The calibration on the sensor nearest to the camera's that covers it; on the largest if unknown."""
    rectilinear = [e for e in entries if e.lens.type == lensfunpy.LensType.RECTILINEAR]
    if len(rectilinear) < len(entries):
        return Match(None, f'"{lens_name}" of the lens data is no rectilinear lens')
    crop = None if diagonal_mm is None else FULL_FRAME_DIAGONAL_MM / diagonal_mm
    covering = [e for e in entries if crop is None or e.lens.crop_factor <= crop * COVERED]
    if not covering:
        return Match(None, f'"{lens_name}" was measured only on a smaller sensor than this camera\'s')
    crops = [e.lens.crop_factor for e in covering]
    nearest = min(crops) if crop is None else max(crops)
    chosen = [e for e in covering if e.lens.crop_factor == nearest]
    if any(_measured(e) != _measured(chosen[0]) for e in chosen):
        return Match(None, f'the lens data hold several "{lens_name}" that differ')
    lens = chosen[0].lens
    maker = str(lens.maker)
    name = lens.model if lens.model.casefold().startswith(maker.casefold()) else f"{maker} {lens.model}"
    half = FULL_FRAME_DIAGONAL_MM / float(lens.crop_factor) / 2
    return Match(LensData(name, half, chosen[0].aspect, lens), "")


def _measured(entry: _Entry) -> tuple[Any, ...]:
    lens = entry.lens
    return entry.aspect, [*lens.calib_distortion], [*lens.calib_vignetting]


def name_key(name: str) -> str:
    """A lens' name as names are compared: case, spaces, marks, "f/" and trailing zeros do not count."""
    text = re.sub(r"f/(?=\d)", "f", name.casefold())
    text = re.sub(r"(\d)\.0+(?!\d)", r"\1", text)
    return "".join(letter for letter in text if letter.isalnum() or letter in ".+/:-")


def _letters(key: str) -> str:
    """What a name says beyond focal length and f-number."""
    rest = re.sub(r"\d[\d.:/-]*(mm)?(f[\d.-]+)?", "", key)
    return "".join(letter for letter in rest if letter.isalpha())


@lru_cache(maxsize=1)
def _by_name() -> dict[str, list[_Entry]]:
    """Every lens under each of its names, with and without its maker's name in front."""
    more = _more_of_lenses()
    found: dict[str, list[_Entry]] = {}
    for lens in database().lenses:
        aspect, names = more.get(_identity(lens.maker, lens.model, lens.crop_factor), (USUAL_ASPECT, ()))
        long, short = (float(side) for side in aspect.split(":"))
        maker = name_key(lens.maker)
        full = {name_key(name) for name in (lens.model, *names)}
        for key in full | {name.removeprefix(maker) for name in full}:
            found.setdefault(key, []).append(_Entry(lens, long / short))
    return found


def _identity(maker: str, model: str, crop_factor: float) -> tuple[str, str, float]:
    return maker, model, round(float(crop_factor), 3)


@lru_cache(maxsize=1)
def _more_of_lenses() -> dict[tuple[str, str, float], tuple[str, tuple[str, ...]]]:
    """Aspect of the calibration's sensor and all names of each lens, which lensfunpy does not pass on."""
    found = {}
    for element in _elements():
        names = tuple(e.text or "" for e in element.findall("model"))
        aspect = element.findtext("aspect-ratio") or USUAL_ASPECT
        aspect = aspect if ":" in aspect else f"{aspect}:1"
        crop = float(element.findtext("cropfactor") or 1.0)
        for maker in element.findall("maker"):
            for name in names:
                found[_identity(maker.text or "", name, crop)] = aspect, names
    return found


def _elements() -> Iterator[ElementTree.Element]:
    for path in sorted((Path(lensfunpy.__file__).parent / "db_files").glob("*.xml")):
        yield from ElementTree.parse(path).getroot().iter("lens")


def _same_range(lens: Any, shortest_mm: float, longest_mm: float) -> bool:
    return _near(lens.min_focal, shortest_mm) and _near(lens.max_focal, longest_mm)


def _near(one: float | None, other: float) -> bool:
    return one is not None and abs(one - other) <= FOCAL_TOLERANCE * other


def _covers(focal_lengths_mm: list[float], focal_length_mm: float) -> bool:
    """Whether measurements at these focal lengths hold for this one; between two, they do."""
    if not focal_lengths_mm:
        return False
    low, high = min(focal_lengths_mm), max(focal_lengths_mm)
    return low * (1 - FOCAL_TOLERANCE) <= focal_length_mm <= high * (1 + FOCAL_TOLERANCE)
