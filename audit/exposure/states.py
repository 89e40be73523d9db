"""What the kit can put before a lens, in classes that exposure can tell apart.

A combination is a set of neutrals, with or without an extra: a polariser or grads, whose loss is a range.
Combinations of about the same stops are one class: exposure cannot tell them apart, and the class says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from audit.kit.kit import Filter, Kit, ScrewIn
from audit.message.text import joined, marked, say
from audit.optics.arrays import Floats

MOST_NEUTRALS = 3
"""More neutrals at once are not considered (common practice, no source)."""
MOST_STOPS = 20.0
"""Combinations beyond it make exposures of days."""
MOST_CLASSES = 24
"""Classes of neutrals kept, the usual ones first, so that a large kit stays cheap."""
ALIKE_STOPS = 0.34
"""Sums nearer to each other than this are one class."""
LEAST_STOPS = 0.25
"""A filter that costs less (a clear or skylight glass) is not looked for."""
USUAL = (1.0, 0.55, 0.09, 0.01)
"""How often none, one, two, three neutrals are worn, relative to each other (assumed)."""
MOST_SETS = 3
"""Sets of one class that are named."""
EXTRA = 0.35
"""How often a polariser or a grad is on, relative to none (assumed)."""
BOTH_EXTRAS = 0.4
"""How often a polariser and a grad are on together, relative to one of them (assumed)."""
QUICK_MORE, SLOW_MORE = 0.05, 0.8
"""Chance of each further filter changed at once, hasty and unhurried (assumed)."""
GRAD_SEEN = 0.8
"""Most of a grad's stops that the meter, or the picture's mean, can see: it darkens part of the frame."""


@dataclass(frozen=True)
class WornClass:
    """A class: sets of neutrals (ids) that cost about `stops`, the usual ones first."""

    members: tuple[tuple[str, ...], ...]
    stops: float
    extra: bool


@dataclass(frozen=True)
class States:
    """Every class with what the hidden chain needs. C classes.

    `stops` (C) of the neutrals, `quick`, `slow` (C, C) chances of a change, `start` (C), `extra_ranges` the
    losses (least, most, share) that the meter sees of an extra, `extras` the ids it may be.
    """

    classes: tuple[WornClass, ...]
    stops: Floats
    quick: Floats
    slow: Floats
    start: Floats
    extra_ranges: tuple[tuple[float, float, float], ...]
    extras: tuple[str, ...]

    @property
    def with_extra(self) -> NDArray[np.bool_]:
        """(C) whether a polariser or grad is on."""
        return np.array([c.extra for c in self.classes])


@dataclass(frozen=True)
class _Combination:
    ids: tuple[str, ...]
    stops: float
    extra: bool
    weight: float


def possible_states(kit: Kit, declared: Iterable[tuple[str, ...] | None] = ()) -> States | None:
    """The classes a kit can make; what was `declared` (ids) is never left out. None without any filter."""
    items: dict[str, Filter | ScrewIn] = {f.id: f for f in kit.filters}
    items |= {f.id: f for f in kit.screw_ins}
    neutrals = [x for x in items.values() if is_neutral(x)]
    extras = [x for x in items.values() if is_extra(x)]
    if not neutrals and not extras:
        return None
    known = {x.id for x in neutrals}
    kept = {tuple(sorted(known.intersection(ids))) for ids in declared if ids is not None}
    combos = _combinations(neutrals, extras, _slots(kit), kept)
    groups = _pruned(_grouped(combos), kept)
    classes = tuple(_worn(group) for group in groups)
    stops = np.array([c.stops for c in classes])
    start = np.array([sum(x.weight for x in group) for group in groups])
    return States(
        classes,
        stops,
        _changes(groups, QUICK_MORE),
        _changes(groups, SLOW_MORE),
        start / start.sum(),
        _extra_ranges(extras),
        tuple(x.id for x in extras),
    )


def is_neutral(item: Filter | ScrewIn) -> bool:
    """Whether it darkens the whole frame by a fixed amount."""
    return item.kind in ("neutral", "other") and item.loss_stops[0] >= LEAST_STOPS


def is_extra(item: Filter | ScrewIn) -> bool:
    """Whether it is a polariser or a grad, whose loss as the meter sees it is a range."""
    return item.kind == "polariser" or item.is_grad if isinstance(item, Filter) else item.kind == "polariser"


def class_words(worn: WornClass) -> str:
    """The neutrals in words, as "about 6 stops: n6, or n3 with old3"."""
    if not worn.members[0]:
        return marked("no neutral")
    first, *others = worn.members[:MOST_SETS]
    stops = round(worn.stops, 1)
    if len(first) == 1:
        words = say("about {stops:g} stops: {filter_name}", stops=stops, filter_name=first[0])
    else:
        words = say("about {stops:g} stops: {filters}", stops=stops, filters=_together(first))
    for ids in others:
        if len(ids) == 1:
            words = say("{sets}, or {filter_name}", sets=words, filter_name=ids[0])
        else:
            words = say("{sets}, or {filters}", sets=words, filters=_together(ids))
    return say("{sets}, or others", sets=words) if len(worn.members) > MOST_SETS else words


def _together(ids: tuple[str, ...]) -> str:
    """Two neutrals or more in words."""
    words = say("{first_name} with {other_name}", first_name=ids[0], other_name=ids[1])
    for name in ids[2:]:
        words = say("{filters} with {other_name}", filters=words, other_name=name)
    return words


def extra_words(extras: tuple[str, ...], extra: str, *, each: bool = False) -> str:
    """What follows the neutrals: `extra` is on, off or open (cannot be told); `each` of several."""
    if not extras or extra == "off":
        return ""
    one, several = _EXTRA_WORDS[extra, each]
    words = say(one, filter_name=extras[0]) if len(extras) == 1 else say(several, filters=_either(extras))
    return joined(["; ", words], "")


_EXTRA_WORDS = {
    ("on", False): (marked("{filter_name} on as well"), marked("{filters} on as well")),
    ("on", True): (marked("each with {filter_name} as well"), marked("each with {filters} as well")),
    ("open", False): (marked("perhaps {filter_name}"), marked("perhaps {filters}")),
    ("open", True): (marked("each perhaps with {filter_name}"), marked("each perhaps with {filters}")),
}
"""By what is known of the extra, and whether several classes are named: with one extra, with several."""


def _either(ids: tuple[str, ...]) -> str:
    """Two extras or more in words."""
    words = say("{first_name} or {other_name}", first_name=ids[0], other_name=ids[1])
    for name in ids[2:]:
        words = say("{filters} or {other_name}", filters=words, other_name=name)
    return words


def _slots(kit: Kit) -> int:
    return max((h.slots for h in kit.holders), default=MOST_NEUTRALS)


def _combinations(
    neutrals: list[Filter | ScrewIn],
    extras: list[Filter | ScrewIn],
    slots: int,
    declared: set[tuple[str, ...]],
) -> list[_Combination]:
    largest = max([MOST_NEUTRALS, *map(len, declared)])
    found = []
    for size in range(largest + 1):
        sets = list(combinations(neutrals, size)) if size <= MOST_NEUTRALS else []
        by_id = {x.id: x for x in neutrals}
        sets += [tuple(by_id[i] for i in ids) for ids in declared if len(ids) == size > MOST_NEUTRALS]
        weight = USUAL[min(size, MOST_NEUTRALS)] / max(len(sets), 1)
        for chosen in sets:
            ids = tuple(sorted(x.id for x in chosen))
            stops = sum(x.loss_stops[0] for x in chosen)
            if ids not in declared and (not _fits(chosen, slots) or stops > MOST_STOPS):
                continue
            found.append(_Combination(ids, stops, False, weight))
            if any(ids in declared or _fits((*chosen, extra), slots) for extra in extras):
                found.append(_Combination(ids, stops, True, weight * EXTRA))
    return found


def _fits(chosen: tuple[Filter | ScrewIn, ...], slots: int) -> bool:
    """Whether slots and the front ring, which takes one round filter, hold them; screw-ins need neither."""
    held = [x for x in chosen if isinstance(x, Filter)]
    front = sum(x.round for x in held)
    return front <= 1 and len(held) - front <= slots


def _grouped(combos: list[_Combination]) -> list[list[_Combination]]:
    groups: list[list[_Combination]] = []
    for extra in (False, True):
        first = -np.inf
        for combo in sorted((c for c in combos if c.extra == extra), key=lambda c: (c.stops, c.ids)):
            if combo.stops - first > ALIKE_STOPS or not groups[-1][0].ids:
                groups.append([])
                first = combo.stops
            groups[-1].append(combo)
    return groups


def _pruned(groups: list[list[_Combination]], declared: set[tuple[str, ...]]) -> list[list[_Combination]]:
    """The usual groups and the declared ones, for each of with and without an extra."""
    kept = []
    for extra in (False, True):
        part = [g for g in groups if g[0].extra == extra]
        part.sort(key=lambda g: (not any(c.ids in declared for c in g), -sum(c.weight for c in g)))
        kept += sorted(part[:MOST_CLASSES], key=lambda g: g[0].stops)
    return kept


def _worn(group: list[_Combination]) -> WornClass:
    usual = sorted(group, key=lambda c: (-c.weight, c.ids))
    weight = sum(c.weight for c in group)
    return WornClass(
        tuple(c.ids for c in usual), sum(c.stops * c.weight for c in group) / weight, group[0].extra
    )


def _changes(groups: list[list[_Combination]], more: float) -> Floats:
    """Chances (C, C) of the class after a change: usual ones more, and each further filter less by `more`."""
    combos = [c for group in groups for c in group]
    owner = np.repeat(np.arange(len(groups)), [len(g) for g in groups])
    ids = sorted({i for c in combos for i in c.ids})
    worn = np.array([[i in c.ids for i in ids] + [c.extra] for c in combos], dtype=float)
    differ = worn @ (1 - worn).T + (1 - worn) @ worn.T
    weight = np.array([c.weight for c in combos])
    chance = np.where(differ > 0, weight * more ** (differ - 1), 0.0)
    chance /= np.maximum(chance.sum(axis=1, keepdims=True), 1e-300)
    belongs = np.eye(len(groups))[owner]
    share = belongs * weight[:, None]
    out: Floats = (share / share.sum(axis=0)).T @ chance @ belongs
    out += np.eye(len(groups)) * (out.sum(axis=1, keepdims=True) < 0.5)
    return out / out.sum(axis=1, keepdims=True)


def _extra_ranges(extras: list[Filter | ScrewIn]) -> tuple[tuple[float, float, float], ...]:
    """What the meter sees of a polariser, of a grad, of both: (least, most, share)."""
    polarisers = [x.loss_stops for x in extras if x.kind == "polariser"]
    grads = [GRAD_SEEN * x.loss_stops[1] for x in extras if x.kind.startswith("grad")]
    ranges = [(low, high, 1.0) for low, high in polarisers] + [(0.0, high, 1.0) for high in grads]
    if polarisers and grads:
        ranges += [(low, high + max(grads), BOTH_EXTRAS) for low, high in polarisers]
    return tuple(ranges)
