"""What open lens data know of the lenses of a table."""

from __future__ import annotations

import pandas as pd

from audit.kit.lens_data import LensData, find_lens

NAMES = ["make", "model", "lens"]


def lens_optics(frames: pd.DataFrame) -> dict[tuple[str, str, str], LensData]:
    """Lens data by make, model and lens name as written, for the lenses that are found beyond doubt."""
    found = {}
    lenses = frames[[*NAMES, "lens_focal_min_mm", "lens_focal_max_mm"]].dropna().drop_duplicates(NAMES)
    for make, model, lens, shortest_mm, longest_mm in lenses.itertuples(index=False):
        data = find_lens(make, model, lens, shortest_mm, longest_mm)
        if data is not None:
            found[make, model, lens] = data
    return found
