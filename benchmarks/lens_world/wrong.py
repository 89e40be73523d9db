"""Twelve set-ups with something wrong and ten right ones: which are refused or warned of?

Each wrong one begins as a right one with two rings (or a ring and a holder), shot at two f-numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from multiprocessing import get_context

import numpy as np

from benchmarks.lens_world.calibrations import PROCESSES
from benchmarks.lens_world.lenses import FIRST_SEED, TracedLens, half
from benchmarks.lens_world.score import Said, said
from benchmarks.lens_world.setup import Ring, SetUp, Shot, holder_for, right
from benchmarks.lens_world.truth import Hole

OFFSET, RIGHT = 5000, 10
"""Seeds of this part begin here, so that none is one of `calibrations`."""


@dataclass(frozen=True)
class Answer:
    """What was said of one set-up."""

    words: str
    wrong: bool
    lens: str
    depth_mm: float
    said: Said

    @property
    def noticed(self) -> bool:
        """Whether it was refused, held back or warned of."""
        return bool(self.said.refused or self.said.warnings) or not self.said.accepted


def _declared(setup: SetUp, change: Callable[[Ring], Ring], only: int | None = None) -> SetUp:
    """The kit's entries changed: of all rings, or of one."""
    made = {r.id: change(r) if only in (None, n) else r for n, r in enumerate(setup.rings)}
    setup.rings = list(made.values())
    setup.shots = [replace(s, declared=made[s.declared.id] if s.declared else None) for s in setup.shots]
    return setup


def _shots(setup: SetUp, change: Callable[[Shot], Shot], only: int | None = None) -> SetUp:
    """Frames with something on changed: all, or those of one ring."""
    chosen = None if only is None else setup.rings[only].id
    setup.shots = [
        change(s) if s.ring is not None and chosen in (None, s.ring.id) else s for s in setup.shots
    ]
    return setup


def larger_ring(setup: SetUp) -> SetUp:
    """A ring of 1.35 times the bore is declared in the place of the first (35.3 mm where 26.1 is true)."""
    return _declared(setup, lambda r: replace(r, bore_mm=1.35 * r.bore_mm), 0)


def smaller_ring(setup: SetUp) -> SetUp:
    """A ring of 0.8 times the bore is declared in the place of the second."""
    return _declared(setup, lambda r: replace(r, bore_mm=0.8 * r.bore_mm), 1)


def rings_exchanged(setup: SetUp) -> SetUp:
    """The two rings are declared for one another."""
    first, second = setup.rings
    other = {first.id: second, second.id: first}
    setup.shots = [replace(s, declared=other[s.declared.id] if s.declared else None) for s in setup.shots]
    return setup


def holder_too_wide(setup: SetUp) -> SetUp:
    """The holder's clear width and bore are 8 mm too wide in the kit."""
    wide = ("bore_mm", "clear_width_mm")

    def change(ring: Ring) -> Ring:
        return replace(ring, holder=tuple((k, v + 8.0 if k in wide else v) for k, v in ring.holder))

    return _declared(setup, change)


def frames_swapped(setup: SetUp) -> SetUp:
    """The bare frames are declared as those of the second ring, and these as bare."""
    second = setup.rings[1]
    swapped = {None: second, second.id: None}
    setup.shots = [
        replace(s, declared=swapped.get(s.declared.id if s.declared else None, s.declared))
        for s in setup.shots
    ]
    return setup


def hood_on(setup: SetUp) -> SetUp:
    """A hood that cuts before the rings was left on in their frames."""
    lens = setup.lens
    tangent = 0.6 * np.tan(np.radians(lens.corner_deg))
    hood = Hole(float(tangent * (lens.depth_mm + 50.0)), 50.0)
    return _shots(setup, lambda s: replace(s, more=(hood,)))


def clouds(setup: SetUp) -> SetUp:
    """The sky is full of clouds."""
    setup.shots = [replace(s, sky=replace(s.sky, cloud_stops=0.35)) for s in setup.shots]
    return setup


def breathing(setup: SetUp) -> SetUp:
    """Autofocus took the ring's edge: those pictures are 6 % larger than at infinity."""
    return _shots(setup, lambda s: replace(s, enlarged=1.06), 0)


def zoom_moved(setup: SetUp) -> SetUp:
    """The zoom was moved by a tenth after the first ring, and the file says nothing of it."""
    return _shots(setup, lambda s: replace(s, enlarged=1.10), 1)


def height_wrong(setup: SetUp) -> SetUp:
    """The height of the ring furthest out is written 12 mm too small."""
    return _declared(setup, lambda r: replace(r, height_mm=abs(r.height_mm - 12.0)), int(_far(setup)))


def _far(setup: SetUp) -> int:
    return int(np.argmax([r.height_mm for r in setup.rings]))


def outer_for_bore(setup: SetUp) -> SetUp:
    """The outer diameter was measured for the bore: every ring 5 mm too wide."""
    return _declared(setup, lambda r: replace(r, bore_mm=r.bore_mm + 5.0))


def step_ring_forgotten(setup: SetUp) -> SetUp:
    """A step ring below the second ring was left out: it stands 6 mm further out than declared.

    Below every ring it could not be told from a deeper pupil.
    """

    def change(shot: Shot) -> Shot:
        assert shot.ring is not None
        parts = tuple(replace(part, z_mm=part.z_mm + 6.0) for part in shot.ring.parts)
        return replace(shot, ring=replace(shot.ring, parts=parts))

    return _shots(setup, change, 1)


WRONG = (
    larger_ring,
    smaller_ring,
    rings_exchanged,
    holder_too_wide,
    frames_swapped,
    hood_on,
    clouds,
    breathing,
    zoom_moved,
    height_wrong,
    outer_for_bore,
    step_ring_forgotten,
)


def _start(which: str, number: int, *, holder: bool) -> SetUp:
    rng = np.random.default_rng(FIRST_SEED[which] + OFFSET + number)
    lenses: list[TracedLens] = half(which)
    lens = lenses[(2 * number + 1) % len(lenses)]
    setup = right(lens, rng, 2, open_too=False, bare=True)
    if holder:
        old, new = setup.rings[1], holder_for(lens, rng, "r1", float(rng.uniform(0.75, 0.88)))
        setup.rings[1] = new
        setup.shots = [
            replace(s, ring=new, declared=new) if s.ring is not None and s.ring.id == old.id else s
            for s in setup.shots
        ]
    return setup


def one(which: str, number: int) -> Answer:
    """One set-up: the wrong ones first, then right ones, of which every third has a holder."""
    if number < len(WRONG):
        make = WRONG[number]
        setup = make(_start(which, number, holder=make is holder_too_wide))
        words = (make.__doc__ or "").strip().splitlines()[0]
    else:
        setup, words = _start(which, number, holder=number % 3 == 0), "right"
    return Answer(words, number < len(WRONG), setup.lens.name, setup.lens.depth_mm, said(setup))


def run(which: str) -> list[Answer]:
    """All set-ups of a half, on two processes."""
    with get_context("fork").Pool(PROCESSES) as pool:
        return pool.starmap(one, [(which, n) for n in range(len(WRONG) + RIGHT)], chunksize=1)


def report(answers: list[Answer]) -> None:
    """Prints what was said of each, and how many were noticed."""
    wrong, sound = [a for a in answers if a.wrong], [a for a in answers if not a.wrong]
    print(f"wrong set-ups refused or warned of: {sum(a.noticed for a in wrong)} of {len(wrong)}")
    print(f"right set-ups refused or warned of: {sum(a.noticed for a in sound)} of {len(sound)}")
    for answer in sorted(answers, key=lambda a: (not a.wrong, a.noticed)):
        told = answer.said
        if told.refused:
            fate = f"refused: {told.refused}"
        else:
            fate = "held back" if not told.accepted else "warned" if told.warnings else "taken"
            fate += f": depth {told.depth_mm:.1f} ± {told.err_mm:.1f}, true {answer.depth_mm:.1f}"
            fate += "".join(f"; {note}" for note in told.warnings)
        print(f"  {answer.words} ({answer.lens})\n      {fate}")
