"""How exactly the brightness of two pictures is told apart, with cameras whose tone curves are not ours.

    python benchmarks/pairs.py [scenes of each camera, 20] [pairs, 2000]

First the errors on brackets by true step, with the general curve and with one fitted on three brackets of
other scenes of the same camera; then how often the stated range holds the truth, by true difference, on pairs
of frames whose shutter and aperture scatter, by cameras whose contrast differs a little from scene to scene;
then the same of phones, which lift and lower each picture. The curves are those of tests/pixels/foreign.py,
fixed; no range was chosen on them.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "pixels"))

import brackets
import foreign

from audit.optics.response import BRIGHTEST, DARKEST, GENERAL, Curve, light_stops
from audit.pixels.curves import camera_curve
from audit.pixels.pair import compare
from audit.pixels.processing import DOUBTED

STEPS = (0.2, 0.5, 1.25, 2.25, 3.25)
TARGETS = {
    "general": ((0.03, 0.10), (0.08, 0.20), (0.19, 0.49), (0.41, 0.68)),
    "own": ((0.01, 0.10), (0.02, 0.11), (0.05, 0.19), (0.07, 0.21)),
}
SCATTER_STOPS = 0.03
"""Of each frame's exposure, 1 sigma: how well shutter and aperture repeat (common practice, no source)."""
OWN_BRACKETS = 3
FITS = 4
"""Own curves of each camera, from different brackets, over which the pairs of the second part are spread."""
PAIRS_A_SCENE = 5
FIRST_SEED = 700_000
"""Of scenes that no range was chosen on."""
CONTRAST_SCATTER = 0.03
"""From scene to scene, as a share, 1 sigma: real cameras' own curves leave 0.15 at three stops (95 %)."""


def distances() -> None:
    """Prints how far each curve lies from the general one."""
    light = np.linspace(-11, 0, 6000)
    print("curve   rms to ours, stops   one stop reads as, about code 30  60  90 120 160 200 (general curve)")
    for name in foreign.CURVES:
        codes = foreign.codes_of(2.0**light, name)
        known = (codes >= DARKEST) & (codes <= BRIGHTEST)
        table = light_stops(np.arange(DARKEST, BRIGHTEST + 1))
        ours = np.interp(codes[known], np.arange(DARKEST, BRIGHTEST + 1), table)
        apart = ours - light[known]
        slopes = np.interp([30, 60, 90, 120, 160, 200], codes[known], np.gradient(ours, light[known]))
        print(f"{name:8s}{apart.std():10.2f}{'':34s}" + " ".join(f"{s:.2f}" for s in slopes))


def own_curve(name: str, first_seed: int, scatter_stops: float = 0.0, contrast: float = 0.0) -> Curve:
    """A curve fitted on brackets of scenes that are used for nothing else; the general one if none passes."""
    seeds = range(first_seed, first_seed + OWN_BRACKETS)
    made = [
        brackets.bracket(scene_curve(name, seed, contrast), seed, scatter_stops=scatter_stops)
        for seed in seeds
    ]
    curve = camera_curve(made)
    return curve if curve is not None else GENERAL


def scene_curve(name: str, seed: int, scatter: float) -> tuple[float, float, float]:
    """A camera's curve as it is in one scene."""
    contrast, hard, lift = foreign.CURVES[name]
    return contrast * (1 + scatter * np.random.default_rng((seed, 4)).normal()), hard, lift


def errors(scenes: int) -> None:
    """Prints median and 95 % of the error by true step."""
    found: dict[tuple[str, int], list[float]] = defaultdict(list)
    for number, name in enumerate(foreign.CURVES):
        curves = {"general": GENERAL, "own": own_curve(name, 90_000 + 100 * number)}
        for seed in range(1000 * number, 1000 * number + scenes):
            for bright, dark, step in brackets.pairs(brackets.bracket(name, seed)):
                row = int(np.searchsorted(STEPS, step - 1e-9)) - 1
                for kind, curve in curves.items():
                    pair = compare(bright, dark, curve, farthest_stops=np.inf)
                    found[kind, max(row, 0)].append(abs(pair.stops - step))
    print("\ntrue step     curve     pairs  refused  median   p95   wanted")
    for kind, wanted in TARGETS.items():
        for row, (median, p95) in enumerate(wanted):
            miss = np.array(found[kind, row])
            known = miss[np.isfinite(miss)]
            told = f"{np.median(known):7.3f}{np.quantile(known, 0.95):7.3f}"
            print(
                f"{STEPS[row]:.2f}-{STEPS[row + 1]:.2f}   {kind:8s}{len(miss):7d}"
                f"{len(miss) - len(known):8d}  {told}   {median:.2f}/{p95:.2f}"
            )


def drawn(
    pairs: int, names: list[str], make: Callable[..., Any]
) -> Iterator[tuple[str, Any, Any, float, int]]:
    """(camera, two pictures, stops between them, number of its own curve): steps of up to 3.4 stops."""
    for number in range(pairs // PAIRS_A_SCENE):
        rng = np.random.default_rng((number, 3))
        name = names[number % len(names)]
        evs = rng.uniform(-0.5, 0.7) + rng.uniform(-1.7, 1.7, PAIRS_A_SCENE)
        frames = make(name, FIRST_SEED + number, evs)
        for one, other in zip(frames, frames[1:] + frames[:1], strict=True):
            yield name, one[0], other[0], other[1] - one[1], number // len(names) % FITS


def coverage(pairs: int) -> None:
    """Prints how often the stated range holds the truth, by true difference, of cameras and of phones."""
    own = {
        (name, fit): own_curve(name, 300_000 + 1000 * number + 10 * fit, SCATTER_STOPS, CONTRAST_SCATTER)
        for number, name in enumerate(foreign.CURVES)
        for fit in range(FITS)
    }

    def shot(name: str, seed: int, evs: Any) -> Any:
        curve = scene_curve(name, seed, CONTRAST_SCATTER)
        return brackets.shots(curve, seed, evs, scatter_stops=SCATTER_STOPS)

    def phone(name: str, seed: int, evs: Any) -> Any:
        return brackets.shots("even", seed, evs, scatter_stops=SCATTER_STOPS, phone=name)

    left = [curve.residual_stops for curve in own.values() if curve.residual_stops is not None]
    print(f"\n{len(left)} own curves of {len(own)} leave {min(left):.3f} to {max(left):.3f} stop")
    made = list(drawn(pairs, list(foreign.CURVES), shot))
    held_table("general", [(one, other, step, GENERAL) for _, one, other, step, _ in made])
    held_table("own", [(one, other, step, own[name, fit]) for name, one, other, step, fit in made])
    made = list(drawn(pairs // 2, list(foreign.PULL), phone))
    for name in foreign.PULL:
        part = [(one, other, step) for which, one, other, step, _ in made if which == name]
        held_table(f"{name}, as cameras", [(*pair, GENERAL) for pair in part])
        held_table(f"{name}, as told", [(*pair, DOUBTED["small"]) for pair in part])
        curves = [phone_curve(name, 400_000 + 100 * fit) for fit in range(2 * FITS)]
        passed = [curve for curve in curves if curve is not None]
        print(f"{name}: {len(passed)} of {len(curves)} curves of {OWN_BRACKETS} brackets pass their check")
        if passed:
            held_table(f"{name}, own", [(*pair, passed[n % len(passed)]) for n, pair in enumerate(part)])


def phone_curve(name: str, first_seed: int) -> Curve | None:
    """A curve fitted on brackets of a phone."""
    evs = [-2.0, -1.0, 0.0, 1.0, 2.0]
    seeds = range(first_seed, first_seed + OWN_BRACKETS)
    return camera_curve([brackets.shots("even", seed, evs, phone=name) for seed in seeds])


def held_table(kind: str, made: list[tuple[Any, Any, float, Curve]]) -> None:
    """Prints one row for each range of true differences."""
    held: dict[int, list[tuple[float, float]]] = defaultdict(list)
    refused: dict[int, int] = defaultdict(int)
    for one, other, step, curve in made:
        row = max(int(np.searchsorted(STEPS, abs(step) - 1e-9)) - 1, 0)
        pair = compare(one, other, curve)
        if pair.why:
            refused[row] += 1
        else:
            held[row].append((abs(pair.stops - step), pair.err_stops))
    print(f"{kind:22} true step up to   pairs  refused  stated +-   held    95 % lie within")
    for row in sorted({*held, *refused}):
        miss, err = np.array(held[row]).reshape(-1, 2).T
        start = f"{'':22}{STEPS[min(row + 1, len(STEPS) - 1)]:12.2f}{len(miss):13d}{refused[row]:9d}"
        if len(miss):
            share, p95 = 100 * (miss <= err).mean(), np.quantile(miss, 0.95)
            start += f"{np.median(err):11.2f}{share:9.1f} %{p95:12.2f}"
        print(start, flush=True)


def main() -> None:
    """All three tables."""
    scenes, pairs = (int(n) for n in (sys.argv[1:] + ["20", "2000"][len(sys.argv) - 1 :])[:2])
    distances()
    errors(scenes)
    coverage(pairs)


if __name__ == "__main__":
    main()
