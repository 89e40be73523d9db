"""The estimate made without a look at the declaration, so that the two can be held against each other."""

from __future__ import annotations

import pandas as pd

from audit.exposure.estimate import add_estimate
from audit.kit.kit import Kit

COMPARED = ("stops", "err_stops", "sure")


def add_independent(frames: pd.DataFrame, kit: Kit) -> pd.DataFrame:
    """Fills the estimated_independent_* columns; all others stay as they are."""
    blind = add_estimate(frames, kit, use_declared=False)
    return frames.assign(**{f"estimated_independent_{name}": blind[f"estimated_{name}"] for name in COMPARED})
