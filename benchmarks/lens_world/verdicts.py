"""Verdicts on rigs of the traced lenses, with and without glass, truth by rays; the code is asked twice.

Once with the lens uncalibrated, once with what `calibrate` says of it after one simulated calibration (rings
at f/5.6 to f/11; wide open too for every second). Frames are raw files or JPEGs by halves; pictures that the
camera straightens are JPEGs. Distortion is known to the kit in half of the others.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np

from audit.kit.kit import Lens
from benchmarks.lens_world.calibrations import PROCESSES
from benchmarks.lens_world.judge import Verdict, judge
from benchmarks.lens_world.lenses import FIRST_SEED, TracedLens, half, lenses
from benchmarks.lens_world.rigs import Worn, rig, thread_for
from benchmarks.lens_world.score import said
from benchmarks.lens_world.setup import distortion_percent, right
from benchmarks.lens_world.truth import onset_deg, share

COUNT, OFFSET = 320, 20_000
CLEAR_STOPS, CUT_STOPS, BLACK_STOPS = 0.1, 0.5, 10.0
WIDEST_EVERY = 4
"""The widest clear focal length is asked of every fourth only: it takes a hundred predictions."""
EDGE = tuple(
    (x, y)
    for x in (-18, -13.5, -9, 0, 9, 13.5, 18)
    for y in (-12, -9, -6, 0, 6, 9, 12)
    if abs(x) == 18 or abs(y) == 12
)
"""Points of the picture's edge, mm from its middle."""
ROWS = ("clear", "between", "cut")


@dataclass(frozen=True)
class Case:
    """One combination: what is true of it, and what was said without and with a calibration."""

    lens: str
    words: str
    glass: bool
    f_number: float
    loss_stops: float
    margin_deg: float
    plain: Verdict
    known: Verdict | None

    @property
    def truth(self) -> str:
        """clear, cut or between."""
        if self.loss_stops < CLEAR_STOPS:
            return "clear"
        return "cut" if self.loss_stops >= CUT_STOPS else "between"


def calibrated(which: str, name: str, turn: int) -> tuple[tuple[str, int], Lens | None]:
    """The kit's lens after one calibration; None where that was refused or would not be written."""
    rng = np.random.default_rng(FIRST_SEED[which] + OFFSET + 100 * half(which).index(lenses()[name]) + turn)
    answer = said(right(lenses()[name], rng, 2 + turn, open_too=turn == 1, bare=True))
    return (name, turn), answer.lens if answer.accepted else None


def one(which: str, number: int, known: dict[tuple[str, int], Lens | None]) -> Case | None:
    """One combination; None for a lens that no thread fits."""
    rng = np.random.default_rng(FIRST_SEED[which] + OFFSET + 10_000 + number)
    some = half(which)
    lens = some[number % len(some)]
    thread = thread_for(lens, rng)
    if thread is None:
        return None
    worn = rig(thread, rng)
    f_number = float(rng.choice(lens.f_numbers))
    loss, margin = truth(lens, worn, f_number, rng.normal(0, 0.25, 2))
    nominal = float(round(lens.focal_mm - 0.4))
    straight = abs(distortion_percent(lens)) < 0.05
    formats = "JPEG" if straight or rng.random() < 0.5 else "RAW"
    entry: dict[str, object] = {"id": "wide", "focal_mm": nominal, "thread_mm": float(thread)}
    if not straight and rng.random() < 0.5:
        entry["distortion_percent"] = round(distortion_percent(lens), 1)
    made = known.get((lens.name, number // len(some) % 2))
    asked = number // len(some) % WIDEST_EVERY == 0

    def verdict(more: dict[str, object]) -> Verdict:
        kit_lens = Lens.model_validate({**more, **entry})
        return judge(worn, kit_lens, nominal, f_number, formats, with_widest=asked)

    pupil = (
        None
        if made is None
        else {k: v for k, v in made.model_dump().items() if k.startswith(("pupil", "calibrated"))}
    )
    return Case(
        lens.name,
        worn.words,
        worn.glass,
        f_number,
        loss,
        margin,
        verdict({}),
        None if pupil is None else verdict(pupil),
    )


def truth(lens: TracedLens, worn: Worn, f_number: float, off_mm: np.ndarray) -> tuple[float, float]:
    """Most that is lost on the picture's edge, and the least room of a corner before half a stop is lost."""
    most, room = 0.0, math.inf
    for x, y in EDGE:
        from_x, from_y = x - off_mm[0], y - off_mm[1]
        theta = float(lens.theta_deg(np.array(np.hypot(from_x, from_y))))
        phi = float(np.degrees(np.arctan2(from_y, from_x)))
        passed = share(lens, theta, f_number, worn.parts, phi)
        most = max(most, -math.log2(max(passed, 1e-6)))
        if abs(x) == 18 and abs(y) == 12:
            room = min(room, onset_deg(lens, f_number, worn.parts, 2**-CUT_STOPS, phi) - theta)
    return most, room


def run(which: str, count: int = COUNT) -> list[Case]:
    """All combinations of a half, on two processes."""
    with get_context("fork").Pool(PROCESSES) as pool:
        asked = [(which, lens.name, turn) for lens in half(which) for turn in (0, 1)]
        known = dict(pool.starmap(calibrated, asked, chunksize=1))
        cases = pool.starmap(one, [(which, number, known) for number in range(count)], chunksize=8)
    return [case for case in cases if case is not None]


def report(cases: list[Case]) -> None:
    """Prints the tables."""
    kinds = [sum(c.truth == row for c in cases) for row in ROWS]
    print(f"{len(cases)} combinations; in truth {kinds[0]} clear, {kinds[1]} between, {kinds[2]} cut")
    for words, some in (
        ("empty slots", [c for c in cases if not c.glass]),
        ("with glass", [c for c in cases if c.glass]),
        ("all", cases),
    ):
        known = [c for c in some if c.known is not None]
        _table(f"{words}, uncalibrated", some, lambda c: c.plain)
        _table(f"{words}, calibrated", known, lambda c: c.known or c.plain)
    print("\nrule of thumb: fine, doubtful, not fine, silent")
    for row in ROWS:
        said_so = [c.plain.rule for c in cases if c.truth == row]
        print(f"  in truth {row:8}" + "".join(f"{said_so.count(r):6}" for r in RULES))


RULES = ("fine", "doubtful", "not fine", "silent")
VERDICTS = ("clear", "at risk", "cut")


def _table(words: str, cases: list[Case], of: Callable[[Case], Verdict]) -> None:
    if not cases:
        return
    made = [of(c) for c in cases]
    print(f"\n{words}: said clear, at risk, cut")
    for row in ROWS:
        said_so = [v.verdict for c, v in zip(cases, made, strict=True) if c.truth == row]
        print(f"  in truth {row:8}" + "".join(f"{said_so.count(v):6}" for v in VERDICTS))
    wrong = [(c, v) for c, v in zip(cases, made, strict=True) if confident_error(c, v)]
    risk = sum(v.verdict == "at risk" for v in made)
    within = sum(
        min(v.best_stops, BLACK_STOPS) - 0.02 <= min(c.loss_stops, BLACK_STOPS) <= v.worst_stops + 0.02
        for c, v in zip(cases, made, strict=True)
    )
    print(f"  wrong with confidence {len(wrong)}; at risk {risk} of {len(cases)} ({risk / len(cases):.0%})")
    print(f"  true loss within the band's: {within} of {len(cases)}")
    reached = [(c, v) for c, v in zip(cases, made, strict=True) if abs(c.margin_deg) < 30 > abs(v.margin_deg)]
    errors = np.array([c.margin_deg - v.margin_deg for c, v in reached])
    early, late = (np.array([getattr(v, name) for _, v in reached]) for name in ("early_deg", "late_deg"))
    held = int(np.sum((errors >= -early) & (errors <= late)))
    need = float(np.quantile(errors, 0.975) - np.quantile(errors, 0.025))
    wide = float(np.mean(early + late))
    print(
        f"  true onset within the band: {held} of {len(errors)}; band {wide:.2f} deg wide, 95 % of the errors"
        f" lie in {need:.2f} ({wide / need:.2f} times), their mean {errors.mean():+.2f}"
    )
    widths = np.array([v.widest_mm for v in made])
    widths = widths[np.isfinite(widths)]
    if widths.size:
        print(f"  band of the widest clear focal length {widths.mean():.1f} mm ({widths.size} asked)")
    _leanings([(c, v) for c, v in zip(cases, made, strict=True) if v.verdict == "at risk"])
    for case, verdict in wrong:
        print(
            f"    said {verdict.verdict}, {case.loss_stops:.2f} stops lost: {case.lens}, f/{case.f_number:g},"
            f" {case.words}"
        )


SURE = (0.0, 0.55, 0.7, 0.85, 1.01)
"""Leanings are told apart by how sure they say they are, in these steps."""
CALLED = {"clear": "clear", "between": "dark", "cut": "cut"}


def _leanings(undecided: list[tuple[Case, Verdict]]) -> None:
    """How often a leaning is right beside how often it says so."""
    for low, high in itertools.pairwise(SURE):
        some = [(c, v) for c, v in undecided if low <= v.leaning_sure < high]
        if some:
            right_ = sum(CALLED[c.truth] == v.leaning for c, v in some)
            sure = float(np.mean([v.leaning_sure for _, v in some]))
            share = right_ / len(some)
            print(f"  leanings said to be {sure:.0%} sure: {right_} of {len(some)} right ({share:.0%})")


def confident_error(case: Case, verdict: Verdict) -> bool:
    """Said clear where a tenth of a stop is lost, or cut where less than half a stop is."""
    if verdict.verdict == "clear":
        return case.loss_stops >= CLEAR_STOPS
    return verdict.verdict == "cut" and case.loss_stops < CUT_STOPS
