"""Adds body, sensor and lens to the frame table."""

from __future__ import annotations

from string import ascii_uppercase
from typing import Any, NamedTuple

import pandas as pd

from audit.kit.clocks import set_right
from audit.kit.kit import Kit, Lens
from audit.kit.rules import folded
from audit.kit.sensors import Sensor, SensorClues, sensor_of
from audit.kit.strangers import missing
from audit.kit.trips import add_other_trips
from audit.message.figures import all_of
from audit.message.text import marked, say
from audit.table.columns import filled

FOCAL_TOLERANCE = 0.015
"""A focal length as written is rounded to whole millimetres or a percent; common practice, no source."""

COLUMNS = (
    "lens",
    "model",
    "problem",
    "focal_length_mm",
    "f_number",
    "lens_focal_min_mm",
    "lens_focal_max_mm",
    "lens_from",
)
NOTES = "MakerNote "
"""How the name of a tag of a maker's own notes begins: what it says may be written otherwise in a kit."""


class LensClues(NamedTuple):
    """What a file says about its lens; None where it says nothing."""

    name: str | None
    focal_mm: float | None
    shortest_mm: float | None
    longest_mm: float | None
    f_number: float | None
    readable: bool
    by_notes: bool = False


def add_lenses(frames: pd.DataFrame, kit: Kit) -> list[tuple[str | None, str | None]]:
    """(lens id, how it was matched or why not) of each frame, in row order."""
    known: dict[LensClues, tuple[str | None, str | None]] = {}
    found = []
    for seen in lens_clues(frames):
        if seen not in known:
            known[seen] = match(seen, kit)
        found.append(known[seen])
    return found


def match(seen: LensClues, kit: Kit) -> tuple[str | None, str | None]:
    """The lens with that EXIF name, or the only one that can be meant, which is said to be assumed."""
    if not kit.lenses:
        return None, marked("the kit names no lens")
    if not seen.readable:
        return None, marked("the file says nothing about the camera")
    if seen.name is not None:
        for lens in kit.lenses:
            if folded(seen.name) in map(folded, lens.exif):
                return lens.id, marked("exif")
    fitting = [lens for lens in kit.lenses if _fits(lens, seen)]
    if len(fitting) == 1:
        return fitting[0].id, marked("assumed")
    if fitting:
        lenses = all_of([lens.id for lens in fitting])
        words = marked("{lenses} fit ({what}); name the lens in the span")
        return None, say(words, lenses=lenses, what=_told(seen))
    if seen.name is not None:
        return None, say('"{lens_name}" is in no exif list of the kit', lens_name=seen.name)
    return None, say("no lens of the kit fits ({what})", what=_told(seen))


def may_be_known(seen: LensClues, kit: Kit) -> bool:
    """Whether a lens of the kit has that EXIF name, or one or more can be meant."""
    named = seen.name is not None and any(folded(seen.name) in map(folded, x.exif) for x in kit.lenses)
    return named or any(_fits(lens, seen) for lens in kit.lenses)


def lens_clues(frames: pd.DataFrame) -> list[LensClues]:
    """What each file says about its lens, in row order."""
    return [_seen(*row) for row in zip(*(frames[name].tolist() for name in COLUMNS), strict=True)]


def _told(seen: LensClues) -> str:
    """What a file tells of its lens apart from the name."""
    if no_contacts(seen):
        return marked("no contacts")
    return say("{focal:g} mm", focal=seen.focal_mm) if seen.focal_mm else marked("no focal length")


def no_contacts(seen: LensClues) -> bool:
    """A lens without contacts leaves name, focal length and f-number empty."""
    return seen.name is None and seen.focal_mm is None and seen.f_number is None


def _fits(lens: Lens, seen: LensClues) -> bool:
    """Whether a lens can be the one: by contacts, by the range written, by the focal length."""
    if lens.no_contacts or no_contacts(seen):
        return lens.no_contacts and no_contacts(seen)
    if seen.name is not None and lens.exif and not seen.by_notes:
        return False
    low, high = lens.focal_mm
    if seen.shortest_mm and seen.longest_mm:
        return _near(low, seen.shortest_mm) and _near(high, seen.longest_mm)
    if seen.focal_mm is None:
        return False
    slack = max(0.5, FOCAL_TOLERANCE * seen.focal_mm)
    return low - slack <= seen.focal_mm <= high + slack


def _near(a: float, b: float) -> bool:
    return abs(a - b) <= max(0.5, FOCAL_TOLERANCE * b)


def _seen(
    name: object,
    model: object,
    problem: object,
    focal: object,
    f_number: object,
    low: object,
    high: object,
    source: object,
) -> LensClues:
    readable = not isinstance(problem, str) and isinstance(model, str)
    text = name if isinstance(name, str) and name.strip() else None
    return LensClues(
        text, _focal(focal), _real(low), _real(high), _real(f_number), readable, _of_notes(source)
    )


def _of_notes(source: object) -> bool:
    return isinstance(source, str) and source.startswith(NOTES)


def _focal(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and value == value and value > 0 else None


Identity = tuple[str, str]
"""Folded model and serial; the serial is "" where none is known."""


def add_bodies(frames: pd.DataFrame, kit: Kit) -> list[str | None]:
    """Label of the body of each frame, in row order; None where the file names no model."""
    rows = identities(frames)
    told = zip(frames["body_serial"], frames["serial_from"], strict=True)
    doubtful = {serial.strip() for serial, source in told if isinstance(serial, str) and _of_notes(source)}
    labels = _labels(_by_first_frame(rows, frames), kit, doubtful | {""})
    return [None if row is None else labels[row] for row in rows]


def identities(frames: pd.DataFrame) -> list[Identity | None]:
    """Model and serial of the body of each frame, in row order; None where the file names no model."""
    models = [folded(m) if isinstance(m, str) and m.strip() else None for m in frames["model"]]
    serials = [s.strip() if isinstance(s, str) else "" for s in frames["body_serial"]]
    by_model: dict[str, set[str]] = {}
    by_folder: dict[tuple[str, str], set[str]] = {}
    for model, serial, folder in zip(models, serials, frames["folder"], strict=True):
        if model is not None and serial:
            by_model.setdefault(model, set()).add(serial)
            by_folder.setdefault((model, folder), set()).add(serial)
    rows: list[Identity | None] = []
    for model, serial, folder in zip(models, serials, frames["folder"], strict=True):
        if model is None:
            rows.append(None)
            continue
        rows.append((model, serial or _only(by_model.get(model)) or _only(by_folder.get((model, folder)))))
    return rows


def _only(serials: set[str] | None) -> str:
    """A frame without a serial belongs to the only body it can be."""
    return next(iter(serials)) if serials is not None and len(serials) == 1 else ""


def _by_first_frame(rows: list[Identity | None], frames: pd.DataFrame) -> list[Identity]:
    """Every body once, in the order of first frames by time, then by name; those without any time last."""
    first: dict[Identity, tuple[pd.Timestamp, str]] = {}
    times = frames["captured_at"].fillna(pd.Timestamp.max.floor("us"))
    for row, time, name in zip(rows, times, frames["frame"], strict=True):
        if row is not None:
            first[row] = min(first.get(row, (time, name)), (time, name))
    return sorted(first, key=lambda row: (first[row], row))


def _labels(seen: list[Identity], kit: Kit, doubtful: set[str]) -> dict[Identity, str]:
    """Kit names first, by serial, then by model alone; the rest are body A, body B as they stand.

    A `doubtful` serial number is none, or one that may be written otherwise than on the camera.
    """
    labels: dict[Identity, str] = {}
    for body in kit.bodies:
        wanted = [row for row in seen if row[0] == folded(body.model) and row not in labels]
        if body.serial is not None:
            alone = sum(folded(other.model) == folded(body.model) for other in kit.bodies) == 1
            exact = [row for row in wanted if row[1] == body.serial]
            near = {""} if exact else doubtful
            wanted = [row for row in wanted if row[1] == body.serial or (row[1] in near and alone)]
        if wanted:
            labels[wanted[0]] = body.name
            if body.serial is not None:
                labels.update(dict.fromkeys(wanted, body.name))
    taken = {body.name.casefold() for body in kit.bodies}
    free = (letter for letter in _letters() if not {letter.casefold(), f"body {letter}".casefold()} & taken)
    for row in seen:
        if row not in labels:
            labels[row] = f"body {next(free)}"
    return labels


def _letters() -> list[str]:
    return [*ascii_uppercase, *(a + b for a in ascii_uppercase for b in ascii_uppercase)]


SENSOR_COLUMNS = (
    *("make", "model", "width_px", "height_px", "focal_length_mm", "focal_length_35mm"),
    *("focal_plane_width_mm", "focal_plane_height_mm"),
)
VIEWFINDERS = {"optical": marked("optical"), "electronic": marked("electronic")}


def add_gear(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """A new table with the gear columns filled and the clocks set right; rows and their order stay."""
    bodies = add_bodies(frames, kit)
    lenses = add_lenses(frames, kit)
    sensors = _sensors(frames, bodies, kit)
    ahead = {body.name: body.clock_ahead_s for body in kit.bodies}
    finders = {body.name: VIEWFINDERS.get(body.viewfinder or "") for body in kit.bodies}
    values: dict[str, list[Any]] = {
        "body": bodies,
        "clock_ahead_s": [ahead.get(label or "") for label in bodies],
        "clock_at": list(frames["captured_at"]),
        "sensor_width_mm": [s.width_mm for s in sensors],
        "sensor_height_mm": [s.height_mm for s in sensors],
        "sensor_err": [s.err for s in sensors],
        "sensor_source": [s.source for s in sensors],
        "sensor_note": [s.note for s in sensors],
        "sensor_other_pixels": [s.other_pixels for s in sensors],
        "lens_id": [id for id, _ in lenses],
        "lens_source": [how for _, how in lenses],
        "viewfinder": [finders.get(label or "") for label in bodies],
        **missing(frames, bodies, [id for id, _ in lenses], kit),
    }
    return add_other_trips(set_right(filled(frames, values)))


def sensor_clues(frames: pd.DataFrame, bodies: list[str | None], kit: Kit) -> list[SensorClues]:
    """What is known of each picture's sensor, in row order; `bodies` are the labels."""
    found = []
    for label, row in zip(
        bodies, zip(*(frames[c].tolist() for c in SENSOR_COLUMNS), strict=True), strict=True
    ):
        body = kit.body(label) if label else None
        make, model, *numbers = row
        given_mm = body.sensor_mm if body is not None else None
        found.append(SensorClues(_text(make), _text(model), given_mm, *(map(_real, numbers))))
    return found


def _sensors(frames: pd.DataFrame, bodies: list[str | None], kit: Kit) -> list[Sensor]:
    """One sensor a frame; pictures that say the same share the work."""
    known: dict[SensorClues, Sensor] = {}
    found = []
    for picture in sensor_clues(frames, bodies, kit):
        if picture not in known:
            known[picture] = _as_stored(sensor_of(picture), picture)
        found.append(known[picture])
    return found


def _as_stored(sensor: Sensor, picture: SensorClues) -> Sensor:
    """A picture stored upright has its short side as width."""
    if picture.width_px is None or picture.height_px is None or picture.width_px >= picture.height_px:
        return sensor
    return sensor._replace(width_mm=sensor.height_mm, height_mm=sensor.width_mm)


def _text(value: object) -> str | None:
    return value if isinstance(value, str) and value.strip() else None


def _real(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) and 0 < value < float("inf") else None
