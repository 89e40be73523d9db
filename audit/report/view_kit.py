"""The kit as it was used: every item in words, the openings of each rig, and what was assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import BaseModel

from audit.declare.rig import Opening, Rig
from audit.kit.kit import Body, Filter, Holder, Hood, Kit, Lens, Ring, ScrewIn, StepRing
from audit.message.figures import number
from audit.message.text import joined, marked, plural, say
from audit.optics.density import density_from_stops, stops_from_density, stops_from_factor, trade_stops
from audit.report.words import known, span, stops, text, texts
from audit.result import Result

KINDS = {
    "bodies": marked("Bodies"),
    "lenses": marked("Lenses"),
    "rings": marked("Rings"),
    "step_rings": marked("Step rings"),
    "screw_ins": marked("Screw-in filters"),
    "holders": marked("Holders"),
    "filters": marked("Filters"),
    "hoods": marked("Hoods"),
}
PARTS: tuple[type[BaseModel], ...] = (Body, Lens, Ring, StepRing, ScrewIn, Holder, Filter, Hood)
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
UNITS = {"mm": "mm", "deg": "deg", "s": "s", "percent": "%"}


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
            Assumption(words, _frames(n))
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
    return Item(name, joined(words, ", "))


def _says_something(value: Any) -> bool:
    return value is not None and value is not False and value not in ((), "", 0.0)


def kit_words() -> Iterator[str]:
    """Names of the kit's keys and the values they choose from, for the catalogue."""
    for part in PARTS:
        for key, field in part.model_fields.items():
            if key not in (*NAMES, *SAID_APART):
                yield _field(key)[0]
                yield from _choices(field.annotation)


def _choices(annotation: Any) -> Iterator[str]:
    """Every text that a type allows by name."""
    for one in get_args(annotation):
        if isinstance(one, str):
            yield one
        else:
            yield from _choices(one)


def _field(key: str) -> tuple[str, str]:
    """A key's name in words, and its unit: thread_mm is "thread" and "mm"."""
    stem, _, suffix = key.rpartition("_")
    unit = UNITS.get(suffix, "") if stem else ""
    return (stem if unit else key).replace("_", " "), unit


def _phrase(key: str, value: Any) -> str:
    """A field as words: thread_mm 77 is "thread 77 mm", true is the field's name alone."""
    what, unit = _field(key)
    if value is True:
        return what
    if key in ("kind", "model"):
        return str(value)
    if key == "exif":
        return say("written in EXIF as {words_written}", words_written=", ".join(value))
    if key == "serial":
        return say("{what} {value_written}", what=what, value_written=value)
    shown = _value(key, value)
    if unit:
        return say("{what} {value} {unit}", what=what, value=shown, unit=unit)
    return say("{what} {value}", what=what, value=shown)


def _value(key: str, value: Any) -> str:
    """Numbers, alone or several, and words."""
    if key == "focal_mm":
        return span(value[0], value[1], digits=2)
    if key == "sensor_mm":
        return joined([number(side) for side in value], " \N{MULTIPLICATION SIGN} ")
    if key == "pupil_depths":
        return joined([_depth(*depth) for depth in value], ", ")
    if key == "calibrated":
        return joined([_depth(one.focal_mm, one.depth_mm, one.err[0]) for one in value], ", ")
    if isinstance(value, tuple):
        return joined([number(each) for each in value], "; ")
    return number(value) if isinstance(value, int | float) else str(value)


def _depth(focal_mm: float, depth_mm: float, err_mm: float) -> str:
    return say(
        "{depth} ± {error} mm at {focal} mm",
        depth=number(depth_mm),
        error=number(err_mm),
        focal=number(focal_mm),
    )


def _pupil(lens: Lens) -> str:
    """The depth of the entrance pupil as it enters the prediction."""
    depth = lens.pupil
    words = say("entrance pupil {depth} mm behind the thread", depth=span(depth.low_mm, depth.high_mm))
    return _assuming(words, depth.assumed)


def _assuming(words: str, assumed: tuple[str, ...]) -> str:
    return say("{words} (assumed: {what})", words=words, what=joined(assumed, ", ")) if assumed else words


def _strength(values: Mapping[str, Any]) -> str:
    """What the kit says, and the exact loss beside the trade's rounding."""
    if values["density"] is not None:
        exact, trade = float(stops_from_density(values["density"])), float(trade_stops(values["density"]))
        return say(
            "density {density}: {exact} stops, sold as {rounded}",
            density=number(values["density"]),
            exact=number(exact),
            rounded=number(trade),
        )
    if values["factor"] is not None:
        exact = float(stops_from_factor(values["factor"]))
        return say(
            "factor {factor}: {exact} stops, sold as {rounded}",
            factor=number(values["factor"]),
            exact=number(exact),
            rounded=number(exact, 0),
        )
    if values["stops"]:
        density = number(float(density_from_stops(values["stops"])))
        strength = stops(values["stops"], digits=2)
        return say("{strength}: density {density} exactly", strength=strength, density=density)
    polariser = values["kind"] == "polariser"
    return marked("1 to 2 stops depending on its turn (†)") if polariser else ""


def _measured(values: Mapping[str, Any]) -> str:
    """The strength that the filter proved to have, which comes before its label."""
    if values["measured_stops"] is None:
        return ""
    strength, err = number(values["measured_stops"]), values["measured_err_stops"]
    if not err:
        return say("measured {strength} stops", strength=strength)
    return say("measured {strength} ± {error} stops", strength=strength, error=number(err))


def _frames(count: int) -> str:
    return plural(count, "{n} frame", "{n} frames")


def _rig_row(rig: Rig, count: int) -> RigRow:
    return RigRow(rig.words, rig.stops_words, _frames(count), tuple(_opening(o) for o in rig.openings))


def _opening(opening: Opening) -> str:
    words = marked("{opening}: {width} mm wide, {distance} mm behind the thread")
    if opening.distance_mm >= 0:
        words = marked("{opening}: {width} mm wide, {distance} mm before the thread")
    width, distance = number(opening.diameter_mm, 1), number(abs(opening.distance_mm), 1)
    return _assuming(say(words, opening=opening.name, width=width, distance=distance), opening.assumed)
