"""What pictures show of cut corners: a static pair, a stack of compositions, a single frame.

    python benchmarks/corner_pixels.py [PAIRS]

Painted scenes and the open photographs beside the project (left out where absent), through six cameras whose
tone curves are not ours, with noise and JPEG coding; cuts follow single rays. "Half a stop" is what is lost
in the extreme corner. PAIRS (500) is the number of static pairs in the main rows, a fifth of it in others.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "pixels"))

import cut_pairs
import foreign

from audit.demo.scene import LOOKS, paint
from audit.pixels.cells import THRESHOLD_STOPS, corner_darkness
from audit.pixels.compositions import distinct, outline_of
from audit.pixels.pair import compare
from audit.pixels.regions import CORNER
from audit.pixels.stack import COUNTS, LEAST_LENS_STOPS, corner_contrasts, threshold
from audit.pixels.static import corner_loss

LOSSES = (0.5, 1.0, 2.0, 4.0)
DRAWS, NULL_DRAWS = 2000, 10000
WEATHER: tuple[tuple[str, dict[str, Any]], ...] = (
    ("light drifts unevenly by 0.1 stop", {"drift": 0.1}),
    ("light drifts unevenly by 0.2 stop", {"drift": 0.2}),
    ("clouds of 0.12 stop moved", {"cloud": 0.12}),
    ("clouds of 0.3 stop moved", {"cloud": 0.3}),
    ("water smoothed", {"water": True}),
    ("camera moved by up to 1.5 of 640 px", {"shift": 1.5}),
    ("exposures up to 1.25 stops apart", {"apart": 1.2}),
)


def main(pairs: int) -> None:
    """Prints every table."""
    few = pairs // 5
    print(f"Static pair, painted scenes, {cut_pairs.WIDE} x {cut_pairs.HIGH} px. Truth: mean beyond {CORNER}")
    print("cut, weather: pairs measured, share seen; median, 5 % and 95 % of the loss; truth; within ±")
    static(pairs, cut_pairs.pair, "")
    static(pairs, cut_pairs.pair, "light drifts unevenly by 0.1 stop", drift=0.1)
    for focal, f_number in ((16, 4), (16, 8), (24, 8), (24, 11)):
        static_row(f"half a stop, {focal} mm f/{f_number}", few, cut_pairs.pair, 0.5, focal, f_number)
    static_row("4 stops, 24 mm f/2.8", few, cut_pairs.pair, 4.0, 24, 2.8)
    for words, weather in WEATHER[1:]:
        static(few, cut_pairs.pair, words, **weather)
    if not cut_pairs.PHOTOGRAPHS.is_dir():
        print("no photographs beside the project: the rest is left out")
        return
    codes = [codes for family in cut_pairs.FAMILIES for _, codes in cut_pairs.photographs(family)]

    def photographed(number: int, **how: Any) -> Any:
        return cut_pairs.through(codes[number % len(codes)], number, **how)

    print(f"Static pair, {len(codes)} photographs through the cameras' curves")
    static(pairs, photographed, "")
    for words, weather in WEATHER[:3]:
        static(few, photographed, words, **weather)
    alone_and_stacked()


def static(pairs: int, make: Callable[..., Any], words: str, **weather: Any) -> None:
    """Rows without a cut, and with half a stop and one in the extreme corner, behind a 20 mm lens at f/8."""
    for name, loss in (("no cut", 0.0), ("half a stop", 0.5), ("1 stop", 1.0)):
        count = pairs if loss < 1 else pairs // 10
        static_row(f"{name}, {words}" if words else name, count, make, loss, 20, 8, **weather)


def static_row(
    words: str,
    pairs: int,
    make: Callable[..., Any],
    loss: float,
    focal: float,
    f_number: float,
    **weather: Any,
) -> None:
    """Makes the pairs, measures them and prints one row."""
    found, truths, refused = [], [], 0
    for number in range(pairs):
        bare, worn = make(number, loss=loss, focal=focal, f_number=f_number, **weather)
        one = corner_loss(bare, worn, compare(bare, worn))
        if one.why:
            refused += 1
            continue
        found.append(one)
        truths.append(truth(loss, focal, f_number, bare.shape))
    stops = np.array([one.stops for one in found])
    within = np.abs(stops - truths) <= [one.err_stops for one in found]
    low, middle, high = np.quantile(stops, (0.05, 0.5, 0.95))
    print(
        f"  {words:52} {len(found):4} of {pairs}: seen {np.mean([one.seen for one in found]):.3f}; "
        f"{middle:+.2f} ({low:+.2f} to {high:+.2f}), truth {np.mean(truths):.2f}, "
        f"within ± {within.mean():.2f}",
        flush=True,
    )


def truth(loss: float, focal: float, f_number: float, shape: tuple[int, int]) -> float:
    """Mean loss of the rays over the corners that are measured."""
    if not loss:
        return 0.0
    passed = cut_pairs.cut(focal, f_number, loss, tuple(2 * n for n in shape))
    corner = cut_pairs.radius(passed.shape) > CORNER
    return float(-np.log2(np.maximum(passed[corner], 2.0**-10)).mean())


def alone_and_stacked() -> None:
    """Stack and single frame on the photographs, each family for itself, and on painted scenes."""
    families = {family: cut_pairs.photographs(family) for family in cut_pairs.FAMILIES}
    greys = {}
    for family, photographs in families.items():
        plain = [cut_pairs.smooth_cut(codes, n, 0.0) for n, (_, codes) in enumerate(photographs)]
        once = distinct([outline_of(grey) for grey in plain])
        greys[family] = {0.0: [plain[i] for i in once]}
        for loss in LOSSES:
            greys[family][loss] = [cut_pairs.smooth_cut(photographs[i][1], i, loss) for i in once]
        print(f"{family}: {len(photographs)} photographs, {len(once)} compositions")
        contrasts = {loss: stacked(some) for loss, some in greys[family].items()}
        half = np.arange(len(once)) % 2 == 0
        for first, second, words in ((half, ~half, "one half"), (~half, half, "the other")):
            stack_table(contrasts, first, second, f"  stack, threshold by {words}, scored on the rest")
    painted = {loss: list(painted_greys(loss)) for loss in (0.0, *LOSSES)}
    contrasts = {loss: stacked(some) for loss, some in painted.items()}
    print(f"{len(painted[0.0])} simulated scenes, threshold of the library: share seen, by stops")
    for count in (*COUNTS, 40):
        print(f"  N = {count}: {rates(contrasts, count)}")
    print(f"single frame, threshold {THRESHOLD_STOPS} stops: share hinted at without a cut, and by stops")
    for family, by_loss in {**greys, "painted": painted}.items():
        values = {loss: np.array([corner_darkness(g) for g in some]) for loss, some in by_loss.items()}
        shares = ", ".join(f"{loss:g}: {np.mean(v > THRESHOLD_STOPS):.2f}" for loss, v in values.items())
        print(
            f"  {family} ({len(values[0.0])} pictures, most without a cut {values[0.0].max():.2f}): {shares}"
        )


def stacked(greys: Iterable[Any]) -> Any:
    """Contrasts of the four corners of each picture, (n, 4)."""
    return np.array([corner_contrasts(grey) for grey in greys])


def painted_greys(loss: float) -> Iterable[Any]:
    """200 painted scenes through the cameras, with the smooth cut."""
    for number in range(200):
        look, curve = list(LOOKS)[number % 5], list(foreign.CURVES)[number % 6]
        level = 0.17 * 2 ** np.random.default_rng(number).uniform(-1, 0.5)
        light = paint(look, 100 + number // 5, 480, 320, (8.0, 12.0, 17.0)[number % 3], number % 2)
        passed = cut_pairs.smooth_loss(light.shape, loss)[..., None]
        yield foreign.grey(foreign.photograph(light * level * passed, curve, seed=number))


def stack_table(contrasts: dict[float, Any], first: Any, second: Any, words: str) -> None:
    """False alarms and detection by N; the null is drawn with replacement, the scored sets without."""
    print(f"{words} ({first.sum()} and {second.sum()})")
    print("    N   independent  99 % of null  threshold  false  " + "  ".join(f"{s:g}" for s in LOSSES))
    for count in COUNTS:
        rng = np.random.default_rng(count)
        null = contrasts[0.0][first]
        drawn = null[rng.integers(0, len(null), (NULL_DRAWS, count))].reshape(NULL_DRAWS, -1)
        chance = float(np.quantile(np.nanmedian(drawn, axis=1), 0.99))
        least = max(LEAST_LENS_STOPS, chance)
        shares = [share(values[second], count, least) for values in contrasts.values()]
        print(
            f"    {count:<4}{second.sum() // count:^13}{chance:10.2f}{least:12.2f}{shares[0]:9.3f}  "
            + "  ".join(f"{s:.2f}" for s in shares[1:])
        )


def rates(contrasts: dict[float, Any], count: int) -> str:
    """Shares beyond the library's own threshold, by stops lost."""
    least = threshold(count)
    return ", ".join(f"{loss:g}: {share(values, count, least):.2f}" for loss, values in contrasts.items())


def share(values: Any, count: int, least: float) -> float:
    """Share of sets of `count` different pictures beyond a threshold."""
    rng = np.random.default_rng(7)
    sets = np.array([rng.permutation(len(values))[:count] for _ in range(DRAWS)])
    return float((np.nanmedian(values[sets].reshape(DRAWS, -1), axis=1) > least).mean())


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
