"""What is worth knowing of a kit and no mistake: what fits nothing, and what is there twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.kit.kit import Filter
from audit.kit.readings import AGREES_STOPS
from audit.kit.sense_threads import Placed, fit_notes
from audit.message.text import marked, say
from audit.toml.fault import Fault


def kit_notes(parts: Sequence[Placed], line: dict[tuple[str, int], int]) -> Iterator[tuple[str, int, Fault]]:
    """Notes on the tables of a kit, with table and index; `line` is each table's header."""
    yield from fit_notes(parts)
    yield from _twice(parts, line)


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
