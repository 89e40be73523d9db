"""A picture of how right the estimate is against how right it says it is, on both test worlds.

python -m benchmarks.world.reliability [--trips N] [--half tune|unseen] [--out docs/reliability.svg]
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd

from audit.exposure.certainty import LIKELY, SURE
from benchmarks.world.ablation import WITHOUT, first_world, second_world, stated
from benchmarks.world.figures import HALVES

BOUNDS = np.array([0.0, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.98, 0.99, 1.0])
SIDE, EDGE = 420, 60
COLOURS = {"first world": "#1b6ca8", "second world": "#b1451b"}
FEW = 30
"""Fewer frames in a step are not drawn."""


def points(found: pd.DataFrame) -> pd.DataFrame:
    """For each step of stated chance: frames, mean chance stated, share right."""
    step = pd.cut(found["chance"], BOUNDS, include_lowest=True)
    by_step = found.groupby(step, observed=True)
    table = pd.DataFrame(
        {"frames": by_step.size(), "stated": by_step["chance"].mean(), "right": by_step["right"].mean()}
    )
    return table[table["frames"] >= FEW]


def picture(worlds: dict[str, pd.DataFrame], half: str) -> str:
    """The diagram as SVG; a dot is as large as its share of the frames."""

    def place(stated: float, right: float) -> tuple[float, float]:
        return EDGE + SIDE * stated, EDGE + SIDE * (1 - right)

    parts = []
    for tick in np.arange(0, 1.01, 0.2):
        x, y = place(tick, tick)
        parts += [
            f'<path d="M{x:.0f} {EDGE}V{EDGE + SIDE}M{EDGE} {y:.0f}H{EDGE + SIDE}" stroke="#ddd"/>',
            f'<text x="{x:.0f}" y="{EDGE + SIDE + 18}" text-anchor="middle">{tick:.1f}</text>',
            f'<text x="{EDGE - 8}" y="{y + 4:.0f}" text-anchor="end">{tick:.1f}</text>',
        ]
    for level in (LIKELY, SURE):
        x, _ = place(level, 0)
        parts.append(f'<path d="M{x:.1f} {EDGE}V{EDGE + SIDE}" stroke="#888" stroke-dasharray="2 3"/>')
    parts.append(f'<path d="M{EDGE} {EDGE + SIDE}L{EDGE + SIDE} {EDGE}" stroke="#555"/>')
    for row, (name, found) in enumerate(worlds.items()):
        table, colour = points(found), COLOURS[name]
        at = [place(s, r) for s, r in zip(table["stated"], table["right"], strict=True)]
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in at)
        parts.append(f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="1.5"/>')
        for (x, y), frames in zip(at, table["frames"], strict=True):
            size = 2 + 14 * float(np.sqrt(frames / len(found)))
            parts.append(
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size:.1f}" fill="{colour}" fill-opacity=".55"/>'
            )
        label = f"{name}: {len(found):,} frames"
        parts.append(f'<text x="{EDGE + 12}" y="{EDGE + 22 + 20 * row}" fill="{colour}">{label}</text>')
    middle, low = EDGE + SIDE / 2, EDGE + SIDE + 42
    centred = 'text-anchor="middle"'
    parts += [
        f'<text x="{middle}" y="{low}" {centred}>chance that is stated (dotted: likely, sure)</text>',
        f'<text transform="translate(18 {middle}) rotate(-90)" {centred}>share that is right</text>',
        f'<text x="{middle}" y="30" {centred}>Stated and true, {half} half, nothing declared</text>',
    ]
    size = SIDE + 2 * EDGE
    style = 'font-family="sans-serif" font-size="13" fill="#222"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" {style}>'
    return "\n".join([head, f'<rect width="{size}" height="{size}" fill="#fff"/>', *parts, "</svg>"]) + "\n"


def main() -> None:
    """Writes the picture and prints its points."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.world.reliability", description=__doc__)
    parser.add_argument("--trips", type=int, default=40)
    parser.add_argument("--half", choices=list(HALVES), default="unseen")
    parser.add_argument("--out", type=Path, default=Path("docs/reliability.svg"))
    asked = parser.parse_args()
    whole = WITHOUT["nothing left out"]
    worlds = {
        name: pd.concat([stated(case, whole(case)) for case in world(asked.half, asked.trips)])
        for name, world in (("first world", first_world), ("second world", second_world))
    }
    for name, found in worlds.items():
        print(f"\n{name}\n{points(found).round(3).to_string()}")
    asked.out.write_text(picture(worlds, asked.half), encoding="utf-8")


if __name__ == "__main__":
    main()
