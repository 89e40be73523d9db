"""Threads that exist, and what fits on what: lenses, step rings, rings and screw-in filters."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from audit.kit.kit import Lens, Part, Ring, ScrewIn, StepRing
from audit.kit.readings import lengths, written
from audit.message.figures import all_of, one_of
from audit.message.text import marked, say
from audit.toml.fault import Fault

Placed = tuple[str, int, Part]
Found = Iterator[tuple[str, int, Fault]]

THREADS = (
    *(25.0, 25.5, 27.0, 28.0, 30.0, 30.5, 34.0, 35.5, 36.5, 37.0, 37.5, 38.0, 39.0, 40.0, 40.5, 41.5, 42.0),
    *(43.0, 43.5, 44.0, 45.0, 46.0, 48.0, 49.0, 52.0, 54.0, 55.0, 58.0, 60.0, 62.0, 67.0, 72.0, 77.0, 82.0),
    *(86.0, 90.0, 93.0, 94.0, 95.0, 100.0, 102.0, 105.0, 107.0, 108.0, 110.0, 112.0, 114.0, 120.0, 122.0),
    *(125.0, 126.0, 127.0, 128.0, 132.0, 134.0, 138.0, 143.0, 145.0, 150.0),
)
"""Filter threads that lenses have, in mm: from memory, common practice, no source."""

LEAST_THREAD_MM = 15.0
"""No lens that takes a filter has a smaller thread; less is in cm or inches: common practice, no source."""

NEAR_MM = 3.0
"""A slip of the finger lands so near: assumed."""


class Thread(NamedTuple):
    """One thread as written: where it stands and what it is."""

    table: str
    place: int
    key: str
    mm: float


def threads_of(parts: Sequence[Placed]) -> list[Thread]:
    """Every thread that the kit names, in its order."""
    found = []
    for table, index, part in parts:
        if isinstance(part, Lens | Ring | ScrewIn) and part.thread_mm is not None:
            found.append(Thread(table, index, "thread_mm", part.thread_mm))
        if isinstance(part, StepRing):
            found.append(Thread(table, index, "from_mm", part.from_mm))
            found.append(Thread(table, index, "to_mm", part.to_mm))
    return found


def thread_faults(parts: Sequence[Placed], whole: bool) -> Found:
    """Threads that do not exist; where all do and the kit is `whole`, rings and steps that fit nothing."""
    threads = threads_of(parts)
    wrong = False
    for one in threads:
        others = {other.mm for other in threads if (other.table, other.place) != (one.table, one.place)}
        if one.mm in THREADS or (one.mm >= LEAST_THREAD_MM and one.mm in others):
            continue
        wrong = True
        level = "error" if one.mm < LEAST_THREAD_MM else "warning"
        words = _no_thread(one, [t for t in others if t in THREADS])
        yield one.table, one.place, Fault(one.key, words, level)
    if whole and not wrong:
        yield from _fits(parts)


def _no_thread(one: Thread, others: Collection[float]) -> str:
    """That there is no such thread, with the likeliest ones."""
    by_unit: list[tuple[float, int, str]] = []
    for other, words in lengths(one.mm):
        near = min(THREADS, key=lambda t: abs(t - other))
        if abs(near - other) <= 0.5 and not LEAST_THREAD_MM <= one.mm <= THREADS[-1]:
            told = say(words, key=one.key, value_written=written(near))
            by_unit.append((abs(near - other), len(by_unit), told))
    if by_unit:
        words = marked("{value_written} mm is no filter thread; {meant}")
        return say(words, value_written=written(one.mm), meant=min(by_unit)[2])
    swapped = [t for t in others if written(t) == written(one.mm)[::-1]]
    own = swapped or sorted((t for t in others if abs(t - one.mm) <= NEAR_MM), key=lambda t: abs(t - one.mm))
    by_size = sorted(THREADS, key=lambda t: abs(t - one.mm))
    usual = [t for t in by_size if t in USUAL][:2]
    meant = one_of([f"{one.key} = {written(t)}" for t in (own[:1] or usual)])
    words = marked("{value_written} mm is no filter thread that is sold; write {meant_written}?")
    return say(words, value_written=written(one.mm), meant_written=meant)


USUAL = (37, 39, 40.5, 43, 46, 49, 52, 55, 58, 62, 67, 72, 77, 82, 86, 95, 105, 112)
"""Filter threads that rings are sold for: common practice, no source."""


ONE_BAG_MM = 20.0
"""Threads further apart are no slip of each other: assumed."""


def near_to(thread: float, others: Collection[float]) -> list[float]:
    """The threads that one may have been meant for."""
    return sorted(other for other in others if abs(other - thread) <= ONE_BAG_MM)


class Fit:
    """What the threads of a kit reach: from each lens over any step rings."""

    def __init__(self, parts: Sequence[Placed]) -> None:
        kit = [part for _, _, part in parts]
        self.lenses = [part for part in kit if isinstance(part, Lens)]
        self.steps = [part for part in kit if isinstance(part, StepRing)]
        self.rings = {part.thread_mm for part in kit if isinstance(part, Ring)}
        self.threads = {part.thread_mm for part in self.lenses if part.thread_mm is not None}
        self.known = bool(self.lenses) and all(part.thread_mm is not None for part in self.lenses)

    def reach(self, threads: Collection[float], steps: Sequence[StepRing] | None = None) -> set[float]:
        """Threads on offer, with any step rings screwed into each other."""
        found, more = set(threads), True
        while more:
            new = {s.to_mm for s in (self.steps if steps is None else steps) if s.from_mm in found} - found
            found |= new
            more = bool(new)
        return found

    def without_ring(self, steps: Sequence[StepRing] | None = None) -> list[float]:
        """Threads of lenses that no ring fits, over step rings neither."""
        return sorted(t for t in self.threads if not self.reach({t}, steps) & self.rings)


def _fits(parts: Sequence[Placed]) -> Found:
    fit = Fit(parts)
    told = [*_turned(parts, fit), *_steps(parts, fit)] if fit.rings else []
    yield from told
    bare = fit.without_ring()
    if not fit.known or not bare or told:
        return
    offered = fit.reach(fit.threads)
    for table, index, part in parts:
        if (
            isinstance(part, Ring | ScrewIn)
            and part.thread_mm not in offered
            and near_to(part.thread_mm, bare)
        ):
            words = marked(
                "{value_written} mm fits no lens of the kit ({threads_written} mm), nor over a step ring; "
                "write {meant_written}?"
            )
            meant = one_of([f"thread_mm = {written(t)}" for t in near_to(part.thread_mm, bare)])
            said = {
                "threads_written": all_of([written(t) for t in sorted(fit.threads)]),
                "meant_written": meant,
            }
            yield (
                table,
                index,
                Fault("thread_mm", say(words, value_written=written(part.thread_mm), **said), "warning"),
            )


def _turned(parts: Sequence[Placed], fit: Fit) -> Found:
    """Lenses that no ring fits, but for the digits of their thread."""
    for table, index, part in parts:
        if isinstance(part, Lens) and part.thread_mm in fit.without_ring():
            digits = written(part.thread_mm or 0)
            if digits != digits[::-1] and digits.isdigit() and float(digits[::-1]) in fit.rings:
                if part.thread_mm in USUAL and float(digits[::-1]) not in USUAL:
                    yield from _turned_ring(parts, digits)
                    continue
                words = marked(
                    "no ring fits {value_written} mm; if the digits are changed over, write {key} = "
                    "{meant_written}"
                )
                said = {"value_written": digits, "key": "thread_mm", "meant_written": digits[::-1]}
                yield table, index, Fault("thread_mm", say(words, **said), "warning")


def _turned_ring(parts: Sequence[Placed], digits: str) -> Found:
    """The ring whose thread is a lens' own with its digits changed over."""
    for table, index, part in parts:
        if isinstance(part, Ring) and part.thread_mm == float(digits[::-1]):
            words = marked(
                "{value_written} mm fits no lens; if the digits are changed over, write {key} = "
                "{meant_written}"
            )
            said = {"value_written": digits[::-1], "key": "thread_mm", "meant_written": digits}
            yield table, index, Fault("thread_mm", say(words, **said), "warning")


def _steps(parts: Sequence[Placed], fit: Fit) -> Found:
    """Step rings that lead nowhere as written, and to a ring when turned round or from another thread."""
    bare = set(fit.without_ring())
    for table, index, part in parts:
        if not isinstance(part, StepRing):
            continue
        others = [s for s in fit.steps if s is not part]
        if part.from_mm in fit.reach(fit.threads, others) and fit.reach({part.to_mm}, others) & fit.rings:
            continue
        joins = fit.reach({part.from_mm}, others) & fit.rings
        turned = part.to_mm in fit.threads and joins and part.from_mm > part.to_mm
        if turned and (part.to_mm in bare or part.from_mm in fit.rings):
            words = marked(
                "is larger than to_mm, and no ring fits {last_written} mm; if it is the wrong way round, "
                "write from_mm = {last_written} and to_mm = {first_written}"
            )
            said = {"first_written": written(part.from_mm), "last_written": written(part.to_mm)}
            yield table, index, Fault("from_mm", say(words, **said), "warning")
        elif (
            fit.known
            and near_to(part.from_mm, bare)
            and part.from_mm not in fit.threads
            and fit.reach({part.to_mm}) & fit.rings
        ):
            words = marked("{value_written} mm is the thread of no lens of the kit; write {meant_written}?")
            meant = one_of(
                [f"from_mm = {written(t)}" for t in near_to(part.from_mm, bare) if t != part.to_mm]
            )
            said = {"value_written": written(part.from_mm), "meant_written": meant}
            yield table, index, Fault("from_mm", say(words, **said), "warning")


def fit_notes(parts: Sequence[Placed]) -> Found:
    """What fits nothing and may be meant so: lenses without a ring, a ring kept for another lens."""
    fit = Fit(parts)
    if not fit.rings:
        return
    bare, offered = fit.without_ring(), fit.reach(fit.threads)
    alone = [(t, i, p) for t, i, p in parts if isinstance(p, Lens) and p.thread_mm in bare]
    if alone:
        lenses = all_of([f'"{lens.id}" ({written(lens.thread_mm or 0)} mm)' for _, _, lens in alone])
        words = marked("no ring fits {lenses_written}, nor over a step ring; nothing in a holder goes on it")
        if len(alone) > 1:
            words = marked(
                "no ring fits {lenses_written}, nor over a step ring; nothing in a holder goes on them"
            )
        table, index, _ = alone[0]
        yield table, index, Fault("thread_mm", say(words, lenses_written=lenses), "note")
    for table, index, part in parts:
        if isinstance(part, Ring) and fit.known and not bare and part.thread_mm not in offered:
            words = marked(
                "{value_written} mm fits no lens of the kit ({threads_written} mm), nor over a step ring"
            )
            said = {"threads_written": all_of([written(t) for t in sorted(fit.threads)])}
            told = say(words, value_written=written(part.thread_mm), **said)
            yield table, index, Fault("thread_mm", told, "note")
