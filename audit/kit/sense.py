"""Sizes of a kit that no such part has: each with what it may have been."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from audit.kit.kit import Body, Filter, Holder, Lens, Part, Ring, ScrewIn, StepRing
from audit.kit.readings import GRADS, meant_lengths, written
from audit.kit.sense_lens import lens_faults
from audit.message.figures import one_of
from audit.message.text import marked, say
from audit.toml.fault import Fault


class Usual(NamedTuple):
    """Smallest and largest size that passes without a word, and where a reading of another unit must lie."""

    low: float
    high: float
    likely_low: float
    likely_high: float


SIZES = {
    "ring": {"bore_mm": Usual(18, 200, 30, 145), "height_mm": Usual(-15, 20, 0.5, 15)},
    "step_ring": {"bore_mm": Usual(18, 200, 30, 145), "height_mm": Usual(0.5, 25, 1, 15)},
    "screw_in": {
        "bore_mm": Usual(18, 200, 30, 145),
        "height_mm": Usual(1, 35, 2, 15),
        "thickness_mm": Usual(0.05, 8, 0.5, 5),
    },
    "holder": {
        "bore_mm": Usual(25, 250, 50, 180),
        "base_mm": Usual(1, 40, 3, 20),
        "clear_width_mm": Usual(30, 250, 50, 180),
        "slot_pitch_mm": Usual(1, 15, 2, 8),
        "front_ring_mm": Usual(35, 250, 50, 180),
        "front_ring_thickness_mm": Usual(1, 35, 2, 20),
        "push_on_mm": Usual(25, 250, 50, 180),
        "play_mm": Usual(0, 3, 0.1, 1),
    },
    "filter": {"width_mm": Usual(40, 250, 60, 200), "thickness_mm": Usual(0.05, 8, 1, 5)},
    "hood": {"length_mm": Usual(5, 400, 10, 150), "bore_mm": Usual(25, 350, 40, 200)},
}
"""Sizes in mm of gear from compact cameras to large teles: common practice, no source."""

FOIL_MM = (0.15, 0.6)
"""Foils are thinner and glass is thicker; between them lies a thickness in cm: common practice, no source."""

NEVER = 2.0
"""So many times smaller or larger than any, and a size cannot be meant: assumed."""

NEVER_IN = frozenset({"holder", "filter", "hood"})
"""Rings may be tubes and discs of one's own for a calibration, of any size: told, and yet used."""

NARROW = 0.62
"""A bore narrower than so much of its thread would cut every wide lens: common practice, no source."""

WALL_MM = 0.8
"""A thread of 0.75 mm pitch takes so much of the diameter: 1.0825 of the pitch, ISO 724."""

APART = (0.65, 2.0)
"""Bore, rails and front ring of one holder are alike in width to so much: common practice, no source."""

MANY_SLOTS = 6
"""Holders have one slot to four: common practice, no source."""

BETWEEN_RAILS_MM = 4.0
"""The rails cover so much of a plate's width: common practice, no source."""

USUAL_SENSORS_MM = ((36.0, 24.0), (28.7, 19.0), (23.6, 15.7), (22.3, 14.9), (17.3, 13.0), (13.2, 8.8))
"""Common practice, no source."""
LARGEST_SENSOR_MM = 260.0
"""Nothing is wider: a scanning back has 96 mm, a sheet of film 254 mm. From memory, no source."""

FEWEST_PIXELS = 600.0
"""From here on a size is in pixels: assumed."""

LONGEST_SHAPE = 3.5
"""The longest sensors are panoramic ones of 65 by 24 mm. From memory, no source."""

CROP_FACTOR = 5.0
"""Two equal numbers below this are a crop factor; the smallest square sensors are larger: assumed."""


def size_faults(table: str, part: Part) -> Iterator[Fault]:
    """Sizes of one part that none has, or that do not go together."""
    for key, usual in SIZES.get(table, {}).items():
        value = getattr(part, key)
        if value is not None and not _silent(key, value, usual):
            never = value < usual.low / NEVER or value > usual.high * NEVER
            level = "error" if never and table in NEVER_IN and key != "thickness_mm" else "warning"
            yield Fault(key, _unusual(key, value, _likely(part, key, usual)), level)
    if isinstance(part, Lens):
        yield from lens_faults(part)
    elif isinstance(part, Body):
        yield from _sensor(part)
    elif isinstance(part, Ring | ScrewIn | StepRing):
        yield from _bore(part.bore_mm, thread_of(part) or 0)
    elif isinstance(part, Holder):
        yield from _holder(part)
    elif isinstance(part, Filter) and part.round and part.kind in GRADS:
        words = marked('a round grad cannot be shifted; is it a round polariser? write kind = "polariser"')
        yield Fault("round", words, "warning")


def _silent(key: str, value: float, usual: Usual) -> bool:
    """A height of 0 and the like is a way to say that nothing is there."""
    if value == 0 and usual.low <= 1:
        return True
    if key == "thickness_mm" and FOIL_MM[0] <= value <= FOIL_MM[1]:
        return False
    return usual.low <= value <= usual.high


def _likely(part: Part, key: str, usual: Usual) -> Usual:
    """The usual range, narrowed for a bore by its own thread."""
    thread = thread_of(part)
    if key != "bore_mm" or thread is None:
        return usual
    return usual._replace(likely_low=NARROW * thread, likely_high=thread - WALL_MM)


def thread_of(part: Part) -> float | None:
    """The narrowest thread of a part that is screwed in."""
    if isinstance(part, StepRing):
        return min(part.from_mm, part.to_mm)
    return part.thread_mm if isinstance(part, Ring | ScrewIn) else None


def _unusual(key: str, value: float, usual: Usual) -> str:
    meant = meant_lengths(key, value, usual.likely_low, usual.likely_high)
    if not meant:
        words = marked("{value_written} mm is {size} than any; look again, or leave it out")
        return say(words, value_written=written(value), size=_size(value, usual))
    if len(meant) == 1:
        words = marked("{value_written} mm is {size} than any; {meant}")
        return say(words, value_written=written(value), size=_size(value, usual), meant=meant[0])
    words = marked("{value_written} mm is {size} than any; {meant}; {other}")
    said = {"value_written": written(value), "size": _size(value, usual)}
    return say(words, meant=meant[0], other=meant[1], **said)


def _size(value: float, usual: Usual) -> str:
    return marked("larger") if value > usual.high else marked("smaller")


def _bore(bore: float | None, thread: float) -> Iterator[Fault]:
    """A hole that does not go with its thread."""
    usual_bore = SIZES["ring"]["bore_mm"]
    if bore is None or not usual_bore.low <= bore <= usual_bore.high:
        return
    usual = thread - 3
    said = {"bore_written": written(bore), "thread_written": written(thread), "usual_written": written(usual)}
    if bore > thread - WALL_MM:
        words = marked(
            "{bore_written} is wider than a thread of {thread_written} allows; measure it, or write "
            "bore_mm = {usual_written}, as is usual"
        )
        yield Fault("bore_mm", say(words, **said), "warning")
    elif bore < NARROW * thread:
        meant = meant_lengths("bore_mm", bore, NARROW * thread, thread - WALL_MM)
        words = marked(
            "{bore_written} is narrow for a thread of {thread_written}; measure it, or write bore_mm = "
            "{usual_written}, as is usual"
        )
        if meant:
            words = marked("{bore_written} is narrow for a thread of {thread_written}; {meant}")
        yield Fault("bore_mm", say(words, meant=meant[0] if meant else "", **said), "warning")


def _holder(part: Holder) -> Iterator[Fault]:
    if part.front_ring_thickness_mm is not None and part.front_ring_mm is None:
        words = marked("without front_ring_mm the holder has no front ring")
        yield Fault("front_ring_thickness_mm", words, "warning")
    apart = list(_beside(part, "bore_mm", part.bore_mm, "clear_width_mm", part.clear_width_mm))
    yield from apart or _beside(part, "front_ring_mm", part.front_ring_mm, "bore_mm", part.bore_mm)
    if part.slots > MANY_SLOTS:
        words = marked(
            "{count} slots are more than any holder has; write how many plates go in, like slots = 2"
        )
        yield Fault("slots", say(words, count=part.slots), "warning")


def _beside(
    part: Holder, key: str, value: float | None, other_key: str, other: float | None
) -> Iterator[Fault]:
    """Two openings of one holder that are far from each other, while each might be."""
    usual, usual_other = SIZES["holder"][key], SIZES["holder"][other_key]
    if value is None or other is None or not usual.low <= value <= usual.high:
        return
    low, high = APART[0] * other, APART[1] * other
    if usual_other.low <= other <= usual_other.high and not low <= value <= high:
        meant = meant_lengths(key, value, low, high)
        said = {"value_written": written(value), "other_key": other_key, "other_written": written(other)}
        words = marked("{value_written} is far from {other_key} = {other_written}; measure both again")
        if meant:
            words = marked("{value_written} is far from {other_key} = {other_written}; {meant}")
        yield Fault(key, say(words, meant=meant[0] if meant else "", **said), "warning")


def rail_faults(parts: list[tuple[str, int, Part]]) -> Iterator[tuple[str, int, Fault]]:
    """A clear width that is the plates' own: they stand in the rails, which cover their edges."""
    widths = {p.width_mm for _, _, p in parts if isinstance(p, Filter) and p.width_mm and not p.round}
    for table, index, part in parts:
        clear = part.clear_width_mm if isinstance(part, Holder) else None
        if clear is None or not widths or max(widths) > clear:
            continue
        if any(width <= clear <= width + BETWEEN_RAILS_MM for width in widths):
            plate = max(widths)
            words = marked(
                "a plate of {plate_written} mm would fall through {clear_written}; measure between the "
                "rails, or write clear_width_mm = {usual_written}"
            )
            said = {"plate_written": written(plate), "clear_written": written(clear)}
            usual = written(plate - BETWEEN_RAILS_MM)
            yield table, index, Fault("clear_width_mm", say(words, usual_written=usual, **said), "warning")


def _sensor(body: Body) -> Iterator[Fault]:
    if body.sensor_mm is None:
        return
    width, height = body.sensor_mm
    said = {"value_written": _pair(width, height), "turned_written": _pair(height, width)}
    if LARGEST_SENSOR_MM < max(width, height) < FEWEST_PIXELS:
        words = marked(
            "{value_written} is larger than any sensor; if the point is missing, write sensor_mm = "
            "{meant_written}"
        )
        yield Fault("sensor_mm", say(words, meant_written=_pair(width / 10, height / 10), **said), "error")
    elif max(width, height) >= FEWEST_PIXELS:
        words = marked(
            "{value_written} is larger than any sensor, and looks like pixels; write its size in mm, or "
            "take sensor_mm out"
        )
        yield Fault("sensor_mm", say(words, **said), "error")
    elif width == height and width < CROP_FACTOR:
        words = marked(
            "{value_written} looks like a crop factor; write width and height in mm, or take sensor_mm out"
        )
        yield Fault("sensor_mm", say(words, **said), "warning")
    elif meant := _larger(width, height):
        words = marked(
            "{value_written} is smaller than any sensor of this shape; write sensor_mm = {meant_written}?"
        )
        yield Fault("sensor_mm", say(words, meant_written=meant, **said), "warning")
    elif max(width, height) > LONGEST_SHAPE * min(width, height):
        words = marked(
            "{value_written} is no sensor's shape; write width and height in mm, or take sensor_mm out"
        )
        yield Fault("sensor_mm", say(words, **said), "warning")
    elif width < height:
        words = marked("the width comes first; write sensor_mm = {turned_written}")
        yield Fault("sensor_mm", say(words, **said), "warning")


def _larger(width: float, height: float) -> str:
    """The usual sensor in mm that a size in cm or inches stands for; nothing where it is a phone's own."""
    sizes = [(width * scale, height * scale) for scale in (10, 25.4)] if max(width, height) < 4.0 else []
    usual = [size for size in sizes if any(_alike(size, one) for one in USUAL_SENSORS_MM)]
    return one_of([_pair(*size) for size in usual]) if usual else ""


def _alike(size: tuple[float, float], usual: tuple[float, float]) -> bool:
    wide, high = max(size), min(size)
    return abs(wide / usual[0] - 1) < 0.04 and abs(high / usual[1] - 1) < 0.04


def _pair(width: float, height: float) -> str:
    return f"[{written(round(width, 2))}, {written(round(height, 2))}]"
