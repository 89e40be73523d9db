"""Which frames other checks of exposure already tell, so that one fault is told once."""

from __future__ import annotations

import pandas as pd

from audit.checks.exposure_sum import levels
from audit.checks.too_bright import beyond


def told_elsewhere(frames: pd.DataFrame) -> pd.Series:
    """Frames that unit-slip, filter-strength, exposure-sum or too-bright report."""
    off = frames["strength_verdict"] == "off"
    bright = beyond(frames)["stops"] > 0
    told: pd.Series = frames["unit_slip"].notna() | off | off_declared(frames) | bright
    return told


def off_declared(frames: pd.DataFrame) -> pd.Series:
    """Frames that exposure-sum reports: their filters were others than declared."""
    off: pd.Series = levels(frames) != ""
    return off


def by_hand(frames: pd.DataFrame) -> pd.Series:
    """Frames exposed by hand, whose compensation is only the meter's reading."""
    manual: pd.Series = (frames["exposure_program"] == "manual").fillna(False)
    return manual
