"""Which frames other checks of exposure already tell, so that one fault is told once."""

from __future__ import annotations

import pandas as pd

from audit.checks.too_bright import BRIGHTEST_EV100


def told_elsewhere(frames: pd.DataFrame) -> pd.Series:
    """Frames that unit-slip, filter-strength, exposure-sum or too-bright report."""
    beyond = frames["light_residual_stops"].abs() > frames["light_tolerance_stops"]
    by_sum = beyond & frames["strength_verdict"].isna()
    by_light = (frames["light_min_ev100"] > BRIGHTEST_EV100) & (frames["declaration"] == "worn")
    by_light &= frames["strength_verdict"].isna()
    off = frames["strength_verdict"] == "off"
    told: pd.Series = frames["unit_slip"].notna() | off | by_sum | by_light
    return told


def by_hand(frames: pd.DataFrame) -> pd.Series:
    """Frames exposed by hand, whose compensation is only the meter's reading."""
    manual: pd.Series = (frames["exposure_program"] == "manual").fillna(False)
    return manual
