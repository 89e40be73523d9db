"""The bodies and lenses that pictures name and a kit lacks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from audit.kit.gear import (
    LensClues,
    add_bodies,
    identities,
    lens_clues,
    may_be_known,
    no_contacts,
    sensor_clues,
)
from audit.kit.kit import Kit
from audit.kit.lens_data import find_lens
from audit.kit.part import LEAST, MOST
from audit.kit.rules import folded
from audit.kit.sensors import data_sensor_mm, sensor_of
from audit.message.shown import writable

WRITABLE = re.compile(r"\S([^\n]*\S)?")
"""A name as the kit takes it."""


@dataclass(frozen=True)
class FoundBody:
    """A camera. `serial` only where the model alone does not tell it; `frames` counts its pictures.

    `sensor_mm` is what the open camera data say, `picture_mm` what its pictures say.
    """

    name: str
    model: str
    serial: str | None
    sensor_mm: tuple[float, float] | None
    picture_mm: tuple[float, float] | None
    frames: int


@dataclass(frozen=True)
class FoundLens:
    """A lens. `name` as EXIF has it ("": none that a kit can hold); `focal_mm` None where nothing tells it.

    `used_mm` are the shortest and longest focal length used, `own` whether `focal_mm` is the lens' own range;
    `data` names its open lens data; `bare` is a lens without contacts; `models` are the cameras it was on.
    """

    id: str
    name: str
    focal_mm: tuple[float, float] | None
    own: bool
    used_mm: tuple[float, float] | None
    widest_f: float | None
    data: str
    bare: bool
    frames: int
    models: tuple[str, ...]


@dataclass(frozen=True)
class FoundGear:
    """What the pictures name and the kit lacks; `twins` are models whose body in the kit gives no serial."""

    bodies: tuple[FoundBody, ...]
    lenses: tuple[FoundLens, ...]
    twins: tuple[str, ...] = ()


def found_gear(frames: pd.DataFrame, kit: Kit) -> FoundGear:
    """Bodies and lenses of scanned frames that the kit has not; the kit may be empty."""
    bodies, twins = _bodies(frames, kit)
    return FoundGear(tuple(bodies), tuple(_lenses(frames, kit)), tuple(twins))


def _bodies(frames: pd.DataFrame, kit: Kit) -> tuple[list[FoundBody], list[str]]:
    labels, who = add_bodies(frames, kit), identities(frames)
    clues = sensor_clues(frames, labels, kit)
    known = {body.name for body in kit.bodies}
    rows: dict[str, list[int]] = {}
    for row, label in enumerate(labels):
        if label is not None and label not in known:
            rows.setdefault(label, []).append(row)
    serials = {label: _serial(who[some[0]]) for label, some in rows.items()}
    alike = Counter(_model(who[some[0]]) for some in rows.values())
    in_kit = Counter(folded(body.model) for body in kit.bodies)
    silent = {folded(body.model) for body in kit.bodies if body.serial is None}
    found, twins = [], []
    for label in sorted(rows, key=lambda one: (len(one), one)):
        some = rows[label]
        model, model_text = _model(who[some[0]]), _one_line(str(frames["model"].iloc[some[0]]))
        several = alike[model] + in_kit[model] > 1
        if not WRITABLE.fullmatch(model_text) or (several and not serials[label]):
            continue
        if model in silent:
            twins.append(model_text)
            continue
        pictures = [clues[row] for row in some]
        sizes = {size for one in set(pictures) if (size := data_sensor_mm(one)) is not None}
        sensor = next(iter(sizes)) if len(sizes) == 1 else None
        told = Counter(
            (one.width_mm, one.height_mm)
            for one in map(sensor_of, pictures)
            if one.width_mm and one.height_mm and one.note is None and not one.other_pixels
        )
        by_pictures = told.most_common(1)[0][0] if told else None
        name = label.removeprefix("body ")
        serial = serials[label] if several else None
        found.append(FoundBody(name, model_text, serial or None, sensor, _sides(by_pictures), len(some)))
    return found, sorted(set(twins))


def _sides(size: tuple[float | None, float | None] | None) -> tuple[float, float] | None:
    return None if size is None or size[0] is None or size[1] is None else (size[0], size[1])


def _model(who: tuple[str, str] | None) -> str:
    return who[0] if who is not None else ""


def _serial(who: tuple[str, str] | None) -> str:
    serial = writable(who[1]) if who is not None else ""
    return serial if who is not None and serial == who[1] and WRITABLE.fullmatch(serial) else ""


def _lenses(frames: pd.DataFrame, kit: Kit) -> list[FoundLens]:
    """Named ones first, then those without a name by their camera, then those without contacts."""
    groups: dict[tuple[int, str], list[int]] = {}
    clues = lens_clues(frames)
    exposed = frames["exposure_time_s"].notna().tolist()
    for row, seen in enumerate(clues):
        model = frames["model"].iloc[row]
        if not seen.readable or may_be_known(seen, kit):
            continue
        if seen.name is not None:
            groups.setdefault((0, folded(seen.name)), []).append(row)
        elif no_contacts(seen):
            if exposed[row]:
                groups.setdefault((2, ""), []).append(row)
        elif seen.focal_mm is not None:
            groups.setdefault((1, folded(str(model))), []).append(row)
    taken = {lens.id for lens in kit.lenses}
    found: list[FoundLens] = []
    named = kit
    for kind, name in sorted(groups):
        some = groups[kind, name]
        if kind == 1:  # a lens found by its name may be meant
            some = [row for row in some if not may_be_known(clues[row], named)]
        if some:
            found.append(_lens(frames.iloc[some], [clues[row] for row in some], taken, bare=kind == 2))
            taken.add(found[-1].id)
        if kind == 0:
            named = Kit.model_validate({"lens": [_as_lens(x) for x in found if x.focal_mm is not None]})
    return found


def _as_lens(lens: FoundLens) -> dict[str, object]:
    return {"id": lens.id, "exif": [lens.name] if lens.name else [], "focal_mm": lens.focal_mm}


def _lens(frames: pd.DataFrame, clues: list[LensClues], taken: set[str], *, bare: bool) -> FoundLens:
    """One lens from its frames."""
    name = _one_line(clues[0].name or "")
    ranges = Counter(
        (one.shortest_mm, one.longest_mm)
        for one in clues
        if one.shortest_mm and one.longest_mm and LEAST <= one.shortest_mm <= one.longest_mm <= MOST
    )
    focals = [one.focal_mm for one in clues if one.focal_mm and LEAST <= one.focal_mm <= MOST]
    used = (min(focals), max(focals)) if focals else None
    own = ranges.most_common(1)[0][0] if ranges else None
    focal = (own[0] or 0.0, own[1] or 0.0) if own else used
    openings = [one.f_number for one in clues if one.f_number]
    models = dict.fromkeys(_one_line(str(model)) for model in frames["model"])
    return FoundLens(
        id="manual" if bare and "manual" not in taken else _free_id(focal, taken),
        name=name if WRITABLE.fullmatch(name) and name == writable(name) else "",
        focal_mm=focal,
        own=own is not None,
        used_mm=used,
        widest_f=min(openings) if openings else None,
        data=_data(frames),
        bare=bare,
        frames=len(clues),
        models=tuple(models),
    )


def _free_id(focal: tuple[float, float] | None, taken: Iterable[str]) -> str:
    """A short word for a lens: 16-35, and 16-35b for the next."""
    ends = [f"{round(mm, 1):g}" for mm in dict.fromkeys(focal or ())]
    stem = "-".join(ends) or "lens"
    letters = "bcdefghijklmnopqrstuvwxyz"
    endings = ["", *letters, *(a + b for a in letters for b in letters), *map(str, range(100_000))]
    return next(f"{stem}{end}" for end in endings if f"{stem}{end}" not in taken)


def _data(frames: pd.DataFrame) -> str:
    """The source of the open lens data that hold for all of its frames; "" where there are none."""
    columns = ["make", "model", "lens", "lens_focal_min_mm", "lens_focal_max_mm"]
    told = frames[columns].dropna().drop_duplicates()
    if told.empty or len(told) < len(frames[columns].drop_duplicates()):
        return ""
    found = [find_lens(*row) for row in told.itertuples(index=False)]
    first = found[0]
    return first.source if first is not None and all(one == first for one in found) else ""


def _one_line(text: str) -> str:
    """Words with single spaces, as names are compared."""
    return " ".join(text.split())
