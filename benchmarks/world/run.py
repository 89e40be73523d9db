"""The real audit on a trip that exists in memory only: the steps of the job, without scan and pixels."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from audit.check import run_checks
from audit.declare import Loaded, add_gear, join, load
from audit.errors import Mistake
from audit.exposure.arithmetic import add_arithmetic
from audit.exposure.estimate import add_estimate, add_independent
from audit.exposure.light import add_light
from audit.exposure.scenes import add_scenes
from audit.exposure.setups import add_setups
from audit.exposure.sun import add_sky
from audit.finding import CheckRun, Finding
from audit.kit.kit import Kit
from audit.scan.frames import frame_table
from audit.table.columns import ALL, filled
from benchmarks.world.trip import WorldTrip


@dataclass(frozen=True)
class Audited:
    """The table, the findings, how the checks went, and the mistakes of kit and declarations."""

    frames: pd.DataFrame
    findings: list[Finding]
    checks: list[CheckRun]
    mistakes: tuple[Mistake, ...]


def table_of(trip: WorldTrip) -> tuple[pd.DataFrame, Kit]:
    """The table as the estimate finds it, and the kit."""
    frames, read, _ = _with_setups(trip.scan_rows, trip.kit_toml, trip.declarations)
    return frames, read.kit


def frames_of(trip: WorldTrip) -> Audited:
    """The audit of a world's trip; what would need pixels is null, but the pictures' brightness."""
    return audited(trip.scan_rows, trip.kit_toml, trip.declarations, trip.picture_stops)


def audited(
    rows: list[dict[str, object]],
    kit_toml: str,
    declarations: dict[str, str],
    picture_stops: NDArray[np.float64],
) -> Audited:
    """The same for rows, texts and brightness of any origin."""
    frames, read, mistakes = _with_setups(rows, kit_toml, declarations)
    kit = read.kit
    frames = add_arithmetic(add_light(frames, kit), kit)
    frames = add_independent(add_estimate(frames, kit, rendered_stops=picture_stops), kit)
    missing = {c.name: [None] * len(frames) for c in ALL if c.name not in frames}
    frames = filled(frames, missing).assign(picture_stops=picture_stops)
    frames = frames[[column.name for column in ALL]].copy()
    findings, checks = run_checks(frames)
    return Audited(frames, findings, checks, (*read.warnings, *mistakes))


def _with_setups(
    rows: list[dict[str, object]], kit_toml: str, declarations: dict[str, str]
) -> tuple[pd.DataFrame, Loaded, tuple[Mistake, ...]]:
    """The table from gear to sky, what was read for it, and the mistakes of the join."""
    read = loaded(kit_toml, declarations)
    joined = join(add_gear(frame_table(rows), read.kit), read.kit, read.declarations)
    return add_sky(add_setups(add_scenes(joined.frames, read.kit)), read.kit), read, joined.mistakes


def loaded(kit_toml: str, declarations: dict[str, str]) -> Loaded:
    """Kit and declarations by their real readers."""
    with tempfile.TemporaryDirectory() as name:
        dump = Path(name)
        (dump / "kit.toml").write_text(kit_toml, encoding="utf-8")
        for folder, text in declarations.items():
            (dump / folder).mkdir(parents=True, exist_ok=True)
            (dump / folder / "filters.toml").write_text(text, encoding="utf-8")
        return load(dump, dump / "kit.toml")
