"""What one span must not say, whatever the kit."""

from __future__ import annotations

from collections.abc import Iterator

from audit.declare.worn import Worn
from audit.message.text import marked, say
from audit.toml.fault import Fault

SAYS_NOTHING = marked(
    'says nothing was worn; write bare = true, neutral = "none" (a grad or polariser may have been on), '
    "unknown = true, or what was worn"
)
ONLY_NONE = marked(
    'can only say "none"; write which neutral was on as slots = [...] with ring and holder, or behind = [...]'
)
BESIDE_NO_NEUTRAL = marked(
    'cannot stand beside neutral = "none", which leaves open what else was worn; where you know it, take '
    "that line out: what is not written was not on"
)


def span_faults(worn: Worn, *, sole: bool = False) -> list[Fault]:
    """Contradictions within a span, each at its key; a `sole` one may leave out what it covers."""
    return [*_cover(worn, sole), *_state(worn), *_needs(worn), *_twice(worn)]


def _cover(worn: Worn, sole: bool) -> Iterator[Fault]:
    if worn.files is None and worn.times is None and not sole:
        yield Fault("", marked('covers nothing; write files = ["first", "last"] or times = [from, to]'))
    if worn.files is not None and worn.times is not None:
        yield Fault("times", marked("files and times are both given; keep one of them"))
    if worn.times is not None:
        start, end = worn.times
        if (start.tzinfo is None) != (end.tzinfo is None):
            words = marked("one end has an offset and the other has none; write both the same way")
            yield Fault("times", words)
        elif start == end:
            words = marked(
                "begins and ends at {start_written}; the end is not included, so it covers nothing"
            )
            yield Fault("times", say(words, start_written=start))
        elif start > end:
            words = marked("ends at {end_written}, before it begins at {start_written}; swap the two")
            yield Fault("times", say(words, end_written=end, start_written=start))


def _state(worn: Worn) -> Iterator[Fault]:
    if worn.bare and worn.unknown:
        yield Fault("unknown", marked("bare and unknown are both true; keep one of them"))
    if worn.neutral not in (None, "none"):
        yield Fault("neutral", ONLY_NONE)
    beside = marked("cannot stand beside {other_key} = true; keep one of them")
    if worn.bare or worn.unknown:
        word = "bare" if worn.bare else "unknown"
        for key in (*worn.rig_keys, *(["neutral"] if worn.neutral else [])):
            yield Fault(key, say(beside, other_key=word))
    elif worn.neutral:
        for key in worn.rig_keys:
            yield Fault(key, BESIDE_NO_NEUTRAL)
    elif not worn.rig_keys:
        yield Fault("", SAYS_NOTHING)


def _needs(worn: Worn) -> Iterator[Fault]:
    alone = worn.holder is None and not any(key in worn.rig_keys for key in ("rig", "slots", "front"))
    if worn.second_holder is not None and alone:
        yield Fault("second_holder", marked("a second holder needs a first one; name it with holder = ..."))
    for key in ("second_slots", "second_turn_deg"):
        if key in worn.rig_keys and worn.second_holder is None and worn.rig is None:
            yield Fault(key, marked("needs a second holder; name it with second_holder = ..."))


def _twice(worn: Worn) -> Iterator[Fault]:
    seen: dict[str, str] = {}
    places: list[tuple[str, int | None, str]] = [("slots", i, x) for i, x in enumerate(worn.slots)]
    places += [("second_slots", i, x) for i, x in enumerate(worn.second_slots)]
    places += [("front", None, worn.front)] if worn.front else []
    for key, item, name in places:
        if name and name in seen:
            words = marked('filter "{name}" is already in {other_key}; one filter, one place')
            yield Fault(key, say(words, name=name, other_key=seen[name]), item=item)
        seen.setdefault(name, key)
    for item, name in enumerate(worn.behind):
        if name in worn.behind[:item]:
            text = say('"{name}" stands twice; one part, one place', name=name)
            yield Fault("behind", text, item=item)
    if worn.holder is not None and worn.holder == worn.second_holder:
        words = marked('"{name}" is already the first holder; give the other its own [[holder]]')
        yield Fault("second_holder", say(words, name=worn.holder))
