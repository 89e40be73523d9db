"""Every rig that a kit can put on a lens: ring, holder, front ring, second holder."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from audit.corners.prediction import Prediction
from audit.corners.question import Question
from audit.kit.kit import Kit, Lens, Ring


@dataclass(frozen=True)
class KitRig:
    """A row of the table; `ring` is "" where the holder is pushed on. `order` sorts the rows."""

    order: tuple[int, ...]
    ring: str
    ring_words: str
    holder: str
    second: str = ""
    front: bool = False

    @property
    def words(self) -> str:
        """Holders from the lens outwards, and what is in front."""
        holders = f"{self.holder} + {self.second}" if self.second else self.holder
        return f"{holders}, front ring" if self.front else holders


@dataclass(frozen=True)
class KitCell:
    """A rig on a lens at its shortest focal length; `clear_mm` in the middle of the band."""

    rig: KitRig
    lens: str
    behind: tuple[str, ...]
    sensor_mm: tuple[float, float]
    bodies: tuple[str, ...]
    focal_length_mm: float
    f_number: float
    prediction: Prediction
    clear_mm: float
    floor_mm: float


@dataclass(frozen=True)
class WholeKit:
    """All cells, sensor by sensor and by f-number; what is beside the table, in words.

    `steps` are the step rings used; `no_sensor` bodies of which the kit gives no size.
    """

    cells: tuple[KitCell, ...]
    no_sensor: tuple[str, ...]
    steps: tuple[str, ...]
    left_out: tuple[str, ...]

    @property
    def assumed(self) -> tuple[str, ...]:
        """Every dimension that was assumed somewhere."""
        return tuple(dict.fromkeys(words for c in self.cells for words in c.prediction.assumed))

    @property
    def cuts(self) -> bool:
        """Whether any rig cuts at its lens' shortest focal length."""
        return any(c.prediction.verdict == "cut" for c in self.cells)


def rigs_on(lens: Lens, kit: Kit) -> Iterator[tuple[KitRig, Question]]:
    """The rigs whose threads fit the lens, directly or over one step ring, with their questions.

    Whether a rig can be for other reasons is for the rules of rigs to say.
    """
    for ring, behind in rings_on(lens, kit):
        for rig in _holders(ring, kit):
            yield (
                rig,
                Question(
                    lens=lens.id,
                    focal_mm=(lens.focal_mm[0],),
                    behind=behind,
                    ring=rig.ring or None,
                    holder=rig.holder,
                    second=rig.second or None,
                    front=rig.front,
                ),
            )


def rings_on(lens: Lens, kit: Kit) -> Iterator[tuple[Ring | None, tuple[str, ...]]]:
    """Rings that fit, with the step ring below them; None: no ring, for a pushed-on holder."""
    for ring in kit.rings:
        steps = [s.id for s in kit.step_rings if (s.from_mm, s.to_mm) == (lens.thread_mm, ring.thread_mm)]
        if ring.thread_mm == lens.thread_mm:
            yield ring, ()
        elif steps:
            yield ring, (steps[0],)
    if any(holder.push_on_mm is not None for holder in kit.holders):
        yield None, ()


def _holders(ring: Ring | None, kit: Kit) -> Iterator[KitRig]:
    """Each holder, then each two, in the kit's order; a front ring on the outer one that has it."""
    place = len(kit.rings) if ring is None else kit.rings.index(ring)
    words = "no ring, pushed on" if ring is None else f"{ring.id}, {ring.kind} {ring.thread_mm:g} mm ring"
    polariser = any(one.round for one in kit.filters)
    first = [(holder,) for holder in kit.holders]
    for number, worn in enumerate((*first, *combinations(kit.holders, 2))):
        if (worn[0].push_on_mm is None) == (ring is None):
            continue
        second = worn[1].id if len(worn) > 1 else ""
        for front in (False, True):
            if not front or (polariser and worn[-1].front_ring_mm is not None):
                order = (place, number, int(front))
                yield KitRig(order, ring.id if ring else "", words, worn[0].id, second, front)


def left_out(kit: Kit, lenses: Sequence[Lens]) -> tuple[str, ...]:
    """What the table does not look at, of these lenses and of what the kit holds; in words."""
    found = []
    for lens in lenses:
        if next(rings_on(lens, kit), None) is not None:
            continue
        if lens.thread_mm is None:
            found.append(f"lens {lens.id}, whose thread_mm the kit does not give")
        else:
            found.append(f"lens {lens.id}, whose {lens.thread_mm:g} mm thread no ring or step ring fits")
    if len(kit.holders) > 1:
        found.append("two holders in the other order")
    if kit.step_rings:
        found.append("two step rings on each other")
    found += [f"screw-ins ({', '.join(s.id for s in kit.screw_ins)})"] if kit.screw_ins else []
    found += [f"hoods ({', '.join(h.id for h in kit.hoods)})"] if kit.hoods else []
    return (*found, "turned or shifted holders")
