"""The kit as it was used: every item in words, the openings of each rig, and what was assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from audit.model.kit import Filter, Kit, Lens, ScrewIn
from audit.model.result import Result
from audit.model.rig import Opening, Rig
from audit.optics.density import density_from_stops, stops_from_density, stops_from_factor, trade_stops
from audit.report.words import counted, known, number, span, stops, text, texts

KINDS = {
    "bodies": "Bodies",
    "lenses": "Lenses",
    "rings": "Rings",
    "step_rings": "Step rings",
    "screw_ins": "Screw-in filters",
    "holders": "Holders",
    "filters": "Filters",
    "hoods": "Hoods",
}
NAMES = ("id", "name")
SAID_APART = (
    "stops",
    "density",
    "factor",
    "measured_stops",
    "measured_err_stops",
    "pupil_depth_mm",
    "pupil_depth_err_mm",
)
JOINTS = {"focal_mm": " to ", "sensor_mm": " \N{MULTIPLICATION SIGN} "}
UNITS = {"mm": "mm", "s": "s", "deg": "degrees"}


@dataclass(frozen=True)
class Item:
    """One thing of the kit: its id and what the kit says of it."""

    name: str
    words: str


@dataclass(frozen=True)
class RigRow:
    """A rig worn in the trip with its openings from the lens outwards."""

    words: str
    stops: str
    frames: str
    openings: tuple[str, ...]


@dataclass(frozen=True)
class Assumption:
    """A dimension the kit does not give, and how many frames it enters."""

    words: str
    frames: str


@dataclass(frozen=True)
class KitView:
    """The section on the kit; lists are empty where there is nothing."""

    place: str
    tables: tuple[tuple[str, tuple[Item, ...]], ...]
    rigs: tuple[RigRow, ...]
    assumed: tuple[Assumption, ...]


def kit_view(result: Result, *, serials: bool = False) -> KitView:
    """Kit, rigs in order of first use and assumed dimensions, the most used first."""
    tables = [(title, _items(getattr(result.kit, kind), serials)) for kind, title in KINDS.items()]
    worn = Counter(text(name) for name in result.frames["rig"] if known(name))
    assumed = Counter(words for cell in result.frames["corner_assumed"] for words in texts(cell))
    return KitView(
        place=_place(result.kit),
        tables=tuple((title, items) for title, items in tables if items),
        rigs=tuple(_rig_row(result.rigs[name], n) for name, n in worn.items() if name in result.rigs),
        assumed=tuple(
            Assumption(words, counted(n, "frame"))
            for words, n in sorted(assumed.items(), key=lambda item: (-item[1], item[0]))
        ),
    )


def _place(kit: Kit) -> str:
    return kit.place or ""


def _items(parts: Iterable[BaseModel], serials: bool) -> tuple[Item, ...]:
    return tuple(_item(part, serials) for part in parts)


def _item(part: BaseModel, serials: bool) -> Item:
    values = part.model_dump()
    name = next(str(values[key]) for key in NAMES if key in values)
    words = [
        _phrase(key, value)
        for key, value in values.items()
        if key not in (*NAMES, *SAID_APART) and (serials or key != "serial") and _says_something(value)
    ]
    if isinstance(part, Filter | ScrewIn):
        words += [_strength(values), _measured(values)]
    if isinstance(part, Lens):
        words.append(_pupil(part))
    return Item(name, ", ".join(w for w in words if w))


def _says_something(value: Any) -> bool:
    return value is not None and value is not False and value not in ((), "", 0.0)


def _phrase(key: str, value: Any) -> str:
    """A field as words: thread_mm 77 is "thread 77 mm", true is the field's name alone."""
    stem, _, suffix = key.rpartition("_")
    unit = UNITS.get(suffix, "") if stem else ""
    name = (stem if unit else key).replace("_", " ")
    if value is True:
        return name
    if isinstance(value, tuple):
        shown = [number(v) if isinstance(v, int | float) else str(v) for v in value]
        words = JOINTS.get(key, ", ").join(dict.fromkeys(shown) if key == "focal_mm" else shown)
    else:
        words = number(value) if isinstance(value, int | float) else str(value)
    if key in ("kind", "model"):
        return words
    if key == "exif":
        return f"written in EXIF as {words}"
    return f"{name} {words} {unit}".strip()


def _pupil(lens: Lens) -> str:
    """The depth of the entrance pupil as it enters the prediction."""
    depth = lens.pupil
    words = f"entrance pupil {span(depth.low_mm, depth.high_mm)} mm behind the thread"
    return f"{words} (assumed: {', '.join(depth.assumed)})" if depth.assumed else words


def _strength(values: Mapping[str, Any]) -> str:
    """What the kit says, and the exact loss beside the trade's rounding."""
    if values["density"] is not None:
        exact, trade = stops_from_density(values["density"]), trade_stops(values["density"])
        said = f"density {number(values['density'])}"
        return f"{said}: {number(float(exact))} stops exactly, {number(float(trade))} in the trade's rounding"
    if values["factor"] is not None:
        exact = stops_from_factor(values["factor"])
        said = f"factor {number(values['factor'])}"
        return (
            f"{said}: {number(float(exact))} stops exactly, {number(float(exact), 0)} in the trade's rounding"
        )
    if values["stops"]:
        density = number(float(density_from_stops(values["stops"])))
        return f"{stops(values['stops'], digits=2)}: density {density} exactly"
    return "1 to 2 stops by its turn (common practice, no source)" if values["kind"] == "polariser" else ""


def _measured(values: Mapping[str, Any]) -> str:
    """The strength that the filter proved to have, which comes before its label."""
    if values["measured_stops"] is None:
        return ""
    err = values["measured_err_stops"]
    return f"measured {number(values['measured_stops'])}{f' ± {number(err)}' if err else ''} stops"


def _rig_row(rig: Rig, count: int) -> RigRow:
    return RigRow(
        rig.words, rig.stops_words, counted(count, "frame"), tuple(_opening(o) for o in rig.openings)
    )


def _opening(opening: Opening) -> str:
    side = "before" if opening.distance_mm >= 0 else "behind"
    place = f"{number(abs(opening.distance_mm), 1)} mm {side} the thread"
    words = f"{opening.name}: {number(opening.diameter_mm, 1)} mm wide, {place}"
    return f"{words} (assumed: {', '.join(opening.assumed)})" if opening.assumed else words
