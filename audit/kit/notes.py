"""What is worth knowing of a kit and no mistake: still to fill in, spare, twice the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.kit.kit import Filter, Holder, Lens, Ring
from audit.kit.readings import AGREES_STOPS
from audit.kit.sense_threads import Placed, fit_notes
from audit.message.text import marked, say
from audit.toml.fault import Fault

BULBOUS_MM, LONG_MM, PHONE_MM = (17.0, 24.0), 300.0, 10.0
"""Lenses that begin and end so short, or are so long, have often no thread in front; shorter ones
are a phone's: common practice, no source."""


def kit_notes(parts: Sequence[Placed], line: dict[tuple[str, int], int]) -> Iterator[tuple[str, int, Fault]]:
    """Notes on the tables of a kit, with table and index; `line` is each table's header."""
    yield from fit_notes(parts)
    pushed = any(isinstance(p, Holder) and p.push_on_mm is not None for _, _, p in parts)
    screwed = any(isinstance(p, Ring) for _, _, p in parts)
    for table, index, part in parts:
        if (
            isinstance(part, Lens)
            and part.thread_mm is None
            and (screwed or not pushed)
            and _takes_thread(part)
        ):
            words = marked(
                "still to fill in: thread_mm, the number after the sign for diameter on lens or cap"
            )
            yield table, index, Fault("thread_mm", words, "note")
    yield from _twice(parts, line)


def _takes_thread(lens: Lens) -> bool:
    short, long = lens.focal_mm
    bulbous = short <= BULBOUS_MM[0] and long <= BULBOUS_MM[1]
    return not bulbous and short < LONG_MM and long >= PHONE_MM


def _twice(parts: Sequence[Placed], line: dict[tuple[str, int], int]) -> Iterator[tuple[str, int, Fault]]:
    """Filters that differ in nothing but the name: one of them may be the other."""
    seen: list[tuple[str, int, Filter]] = []
    for table, index, part in parts:
        if not isinstance(part, Filter):
            continue
        same = next((one for one in seen if _alike(one[2], part)), None)
        seen.append((table, index, part))
        if same is not None:
            words = marked(
                'is "{known_name}" of line {line} in all but its name; if it is one filter, take one out'
            )
            said = {"known_name": same[2].id, "line": line[same[0], same[1]]}
            yield table, index, Fault("id", say(words, **said), "note")


def _alike(one: Filter, other: Filter) -> bool:
    strength = {"id", "stops", "density", "factor"}
    apart = abs(one.label_stops[0] - other.label_stops[0])
    return one.model_dump(exclude=strength) == other.model_dump(exclude=strength) and apart <= AGREES_STOPS
