"""How far a whole audit is: one line that names the stage, with an estimate of the time left for all."""

from __future__ import annotations

import sys
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

STAGES = {
    "loading": ("reading kit and declarations", 1),
    "reading": ("reading files", 6),
    "comparing": ("comparing frames", 15),
    "looking": ("looking at pictures", 60),
    "estimating": ("estimating filters", 5),
    "checking": ("checking", 10),
    "showing": ("making larger views", 40),
    "describing": ("putting it in words", 5),
    "writing": ("writing pages", 8),
}
"""Words of each stage, and what part of an audit it usually takes; the stages come in this order."""
PICTURES = ("looking", "showing")
"""Stages that there are only where pixels are measured."""
REPORT = ("showing", "describing", "writing")
"""Stages of a report."""
REFRESH_S = 0.1


def left_out(pixels: str, *, report: bool = True) -> tuple[str, ...]:
    """The stages that a command does without."""
    return (PICTURES if pixels == "off" else ()) + (() if report else REPORT)


class Run:
    """The stages of one audit; without a bar nothing is shown."""

    def __init__(self, bar: Progress | None = None, left_out: Collection[str] = ()) -> None:
        parts = {stage: 0 if stage in left_out else part for stage, (_, part) in STAGES.items()}
        self._bar, self._parts, self._stage, self._shown_at = bar, parts, "", 0.0
        self._task = self._added(bar, sum(parts.values())) if bar is not None else None

    @staticmethod
    def _added(bar: Progress, total: int) -> TaskID:
        return bar.add_task("starting", total=total, count="")

    def begin(self, stage: str) -> None:
        """Says what is done from now on; what came before is done."""
        self._stage = stage
        self._show(STAGES[stage][0], 0.0, "")

    def tick(self, done: int, total: int) -> None:
        """So much of the stage is done, of so much in all."""
        now = time.monotonic()
        if self._bar is not None and total and (now - self._shown_at >= REFRESH_S or done == total):
            self._shown_at = now
            self._show(STAGES[self._stage][0], done / total, f"{done:,} of {total:,}")

    def _show(self, words: str, share: float, count: str) -> None:
        if self._bar is None or self._task is None:
            return
        order = list(STAGES)
        before = sum(self._parts[stage] for stage in order[: order.index(self._stage)])
        completed = before + share * self._parts[self._stage]
        self._bar.update(self._task, description=words, completed=completed, count=count, refresh=not count)


@contextmanager
def whole_run(*, quiet: bool, left_out: Collection[str] = ()) -> Iterator[Run]:
    """A bar for all stages but those left out, on a terminal's stderr; nothing of the kind in a pipe."""
    if quiet or sys.stderr is None or not sys.stderr.isatty():
        yield Run()
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeRemainingColumn

    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        TextColumn("{task.fields[count]}"),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        run = Run(bar, left_out)
        run.begin("loading")
        yield run
