"""The figures as docs/performance.md."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from benchmarks.performance.rounds import Figure

HEAD = """# What an audit costs

Written by `make bench`. Each part is one run: its contenders take turns, round after round, so that the
ratios hold on a busy machine too; the times do not carry over to another. Told are the median, the least and
the most of the rounds.

{machine}
"""
FLAMES = """
## Where the time goes

Boxes are as wide as their share of the time of one audit, each below the one that called it; opened alone, a
picture names every box. [How they are made](scale.md#where-the-time-of-an-audit-goes).

![Before: where an audit of 10,000 frames spent its time](flame-before.svg)

![After: where it spends it now](flame-after.svg)
"""


def page(figures: Sequence[Figure], machine: Mapping[str, str]) -> str:
    """Markdown: one table a part."""
    parts = [HEAD.format(machine=", ".join(f"{name} {value}" for name, value in machine.items()) + ".")]
    for part, rows in groupby(figures, key=lambda figure: figure.part):
        lines = ["| | median (least to most) | ratio | aim |", "|---|---|---|---|", *map(_row, rows)]
        parts.append(f"## {part[0].upper()}{part[1:]}\n\n" + "\n".join(lines) + "\n")
    return "\n".join(parts) + FLAMES


def _row(figure: Figure) -> str:
    spread = f" ({_short(figure.least)} to {_short(figure.most)})" if figure.least != figure.most else ""
    ratio = "" if figure.ratio is None else f"{figure.ratio:.2f} x {figure.against}"
    if figure.what == figure.against:
        ratio = ""
    return f"| {figure.what} | {_short(figure.median)} {figure.unit}{spread} | {ratio} | {figure.aim} |"


def _short(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"
