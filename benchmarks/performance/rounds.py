"""Contenders timed in turn, round after round, so that a machine that is busy is busy for each of them."""

from __future__ import annotations

import gc
import resource
import statistics
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Figure:
    """One line of the table: so much of a unit, least, median and most of the rounds.

    `ratio` is the median of the rounds' own ratios to `against`, another line's name; `aim` is in words.
    """

    part: str
    what: str
    unit: str
    least: float
    median: float
    most: float
    ratio: float | None = None
    against: str = ""
    aim: str = ""

    @classmethod
    def single(cls, part: str, what: str, unit: str, value: float, aim: str = "") -> Figure:
        """Of a value that was measured once."""
        return cls(part, what, unit, value, value, value, aim=aim)

    @classmethod
    def of_rounds(
        cls,
        part: str,
        what: str,
        unit: str,
        times: list[float],
        against: str,
        theirs: list[float],
        aim: str = "",
    ) -> Figure:
        """Of the values of some rounds, and of those of `against` in the same rounds."""
        ratio = statistics.median(a / b for a, b in zip(times, theirs, strict=True))
        return cls(part, what, unit, min(times), statistics.median(times), max(times), ratio, against, aim)

    def plain(self) -> dict[str, Any]:
        """For JSON."""
        return asdict(self)


def peak_mb() -> float:
    """The most memory that this process has held so far [MB]; not what the one held that began it."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(one for one in status.read_text().splitlines() if one.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2  # bytes, where there is no /proc


def forget_peak() -> None:
    """From here on `peak_mb` is the most that is held from now on, where the system can begin anew."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def timed(
    part: str,
    contenders: Mapping[str, Callable[[], object]],
    *,
    against: str,
    rounds: int = 5,
    per: int = 1,
    unit: str = "ms a file",
    aims: Mapping[str, str] | None = None,
) -> list[Figure]:
    """A figure of each contender, in ms divided by `per`; the first round warms up and does not count."""
    took: dict[str, list[float]] = {name: [] for name in contenders}
    for number in range(rounds + 1):
        for name, work in contenders.items():
            gc.collect()
            began_s = time.perf_counter()
            work()
            if number:
                took[name].append((time.perf_counter() - began_s) * 1000 / per)
    aims = aims or {}
    return [
        Figure.of_rounds(part, name, unit, times, against, took[against], aims.get(name, ""))
        for name, times in took.items()
    ]
