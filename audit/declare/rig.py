"""A rig: what sits before the lens, with the openings that light has to pass."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from functools import cached_property

from audit.message.text import marked


@dataclass(frozen=True)
class Opening:
    """A circle on the lens axis; `distance_mm` forward from the front edge of the lens' filter thread.

    What the kit does not give is named in `assumed_across` (the diameter), `assumed_along` (lengths that
    make up the distance) and `assumed_glass`. `glass_mm`: thickness of the plates between it and the lens.
    `across_err_mm`, `along_err_mm`: by how much it may lie aside, and its edge nearer or further, because
    its holder has play or leans; on top of the errors of its own sizes.
    """

    name: str
    diameter_mm: float
    distance_mm: float
    assumed_across: tuple[str, ...] = ()
    assumed_along: tuple[str, ...] = ()
    glass_mm: float = 0.0
    assumed_glass: tuple[str, ...] = ()
    across_err_mm: float = 0.0
    along_err_mm: float = 0.0

    @property
    def assumed(self) -> tuple[str, ...]:
        """All that the kit does not give."""
        return (*self.assumed_along, *self.assumed_across, *self.assumed_glass)

    @property
    def data(self) -> tuple[object, ...]:
        """All of it but its words."""
        return self.diameter_mm, self.distance_mm, *_common(self)


@dataclass(frozen=True)
class Rails:
    """The front edges of a holder's rails: two straight edges `clear_width_mm` apart, centred on the axis.

    At `turned_deg` 0 they stand left and right of a landscape frame. What is assumed, as with an opening.
    """

    name: str
    clear_width_mm: float
    distance_mm: float
    turned_deg: float = 0.0
    assumed_across: tuple[str, ...] = ()
    assumed_along: tuple[str, ...] = ()
    glass_mm: float = 0.0
    assumed_glass: tuple[str, ...] = ()
    across_err_mm: float = 0.0
    along_err_mm: float = 0.0

    @property
    def assumed(self) -> tuple[str, ...]:
        """All that the kit does not give."""
        return (*self.assumed_along, *self.assumed_across, *self.assumed_glass)

    @property
    def data(self) -> tuple[object, ...]:
        """All of it but its words."""
        return self.clear_width_mm, self.distance_mm, self.turned_deg, *_common(self)


def _common(part: Opening | Rails) -> tuple[object, ...]:
    assumed = bool(part.assumed_across), bool(part.assumed_along), len(part.assumed_glass)
    return *assumed, part.glass_mm, part.across_err_mm, part.along_err_mm


_WORDS = frozenset({"words", "mount_words", "stops_words"})


WHOLLY_KNOWN = ("worn", "bare")
"""States of a rig of which every part is known."""


@dataclass(frozen=True)
class Rig:
    """What was worn, by value: equal rigs are equal and share `key`.

    `state` is worn, bare, no-neutral or unknown; of the last two no part is known. `mount_words` are the
    words without the filters in the slots; `filters` are ids back to front (behind, slots, second slots,
    front), empty slots left out, while `slots` keeps them as "". Stops: `even_stops` (least, most) over the
    whole frame, `grad_stops` what the grads take together where they are dense. `ring_kind` is "" without a
    ring. `gasketed` are the ids of the filters with a gasket. `source` is photographer or estimated.
    """

    state: str
    words: str
    mount_words: str = ""
    filters: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()
    ring: str = ""
    ring_kind: str = ""
    thread_mm: float | None = None
    holder: str = ""
    slots: tuple[str, ...] = ()
    front: str = ""
    turn_deg: float = 0.0
    polariser_turn_deg: float | None = None
    second_holder: str = ""
    second_slots: tuple[str, ...] = ()
    second_turn_deg: float = 0.0
    hood: str = ""
    shift_mm: tuple[float, float] = (0.0, 0.0)
    eyepiece_covered: bool | None = None
    openings: tuple[Opening, ...] = ()
    rails: tuple[Rails, ...] = ()
    even_stops: tuple[float, float] = (0.0, 0.0)
    grad_stops: float = 0.0
    stops_words: str = ""
    gasketed: tuple[str, ...] = ()
    source: str = marked("photographer")

    @property
    def mount(self) -> str:
        """Identity of what carries the filters, "" for a bare lens; the filters in slots are left out."""
        size = "" if self.thread_mm is None else f"{self.thread_mm:g}"
        second, front = "second" * bool(self.second_holder), "front" * bool(self.front)
        parts = (*self.behind, size, self.ring_kind, self.holder, second, front, self.hood)
        return "|".join(parts) if any(parts) else ""

    @cached_property
    def key(self) -> str:
        """Identity of the rig: eight hex digits from all its values but the words, alike on every machine."""
        values = {f.name: getattr(self, f.name) for f in fields(self) if f.name not in _WORDS}
        values |= {name: [one.data for one in values[name]] for name in ("openings", "rails")}
        text = "|".join(f"{name}={value!r}" for name, value in values.items())
        return hashlib.sha256(text.encode()).hexdigest()[:8]
