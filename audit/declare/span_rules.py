"""What one span must not say, whatever the kit."""

from __future__ import annotations

from collections.abc import Iterator

from audit.declare.fault import Fault
from audit.model.worn import Worn


def span_faults(worn: Worn) -> list[Fault]:
    """Contradictions within a span, each at its key."""
    return [*_cover(worn), *_state(worn), *_needs(worn), *_twice(worn)]


def _cover(worn: Worn) -> Iterator[Fault]:
    if worn.files is None and worn.times is None:
        yield Fault("", 'covers nothing; write files = ["first", "last"] or times = [from, to]')
    if worn.files is not None and worn.times is not None:
        yield Fault("times", "files and times are both given; keep one of them")
    if worn.times is not None:
        start, end = worn.times
        if (start.tzinfo is None) != (end.tzinfo is None):
            yield Fault("times", "one end has an offset and the other has none; write both the same way")
        elif start == end:
            yield Fault("times", f"begins and ends at {start}; the end is not included, so it covers nothing")
        elif start > end:
            yield Fault("times", f"ends at {end}, before it begins at {start}; swap the two")


def _state(worn: Worn) -> Iterator[Fault]:
    if worn.bare and worn.unknown:
        yield Fault("unknown", "bare and unknown are both true; keep one of them")
    if worn.bare or worn.unknown:
        word = "bare" if worn.bare else "unknown"
        for key in worn.rig_keys:
            yield Fault(key, f"cannot stand beside {word} = true; keep one of them")
    elif not worn.rig_keys:
        yield Fault("", "says nothing was worn; write bare = true, unknown = true, or what was worn")


def _needs(worn: Worn) -> Iterator[Fault]:
    for key in ("slots", "front", "turn_deg", "second_holder"):
        if key in worn.rig_keys and worn.holder is None:
            what = "a second holder needs a first one" if key == "second_holder" else "needs a holder"
            yield Fault(key, f"{what}; name it with holder = ...")
    for key in ("second_slots", "second_turn_deg"):
        if key in worn.rig_keys and worn.second_holder is None:
            yield Fault(key, "needs a second holder; name it with second_holder = ...")


def _twice(worn: Worn) -> Iterator[Fault]:
    seen: dict[str, str] = {}
    places: list[tuple[str, int | None, str]] = [("slots", i, x) for i, x in enumerate(worn.slots)]
    places += [("second_slots", i, x) for i, x in enumerate(worn.second_slots)]
    places += [("front", None, worn.front)] if worn.front else []
    for key, item, name in places:
        if name and name in seen:
            yield Fault(key, f'filter "{name}" is already in {seen[name]}; one filter, one place', item=item)
        seen.setdefault(name, key)
    for item, name in enumerate(worn.behind):
        if name in worn.behind[:item]:
            yield Fault("behind", f'"{name}" stands twice; one part, one place', item=item)
    if worn.holder is not None and worn.holder == worn.second_holder:
        yield Fault(
            "second_holder", f'"{worn.holder}" is already the first holder; give the other its own [[holder]]'
        )
