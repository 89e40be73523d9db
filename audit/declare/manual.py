"""Lenses without contacts: what the file cannot say comes from the kit or the span."""

from __future__ import annotations

from typing import Any

import pandas as pd

from audit.declare.judged import Judged
from audit.model.columns import records
from audit.model.kit import Kit, Lens
from audit.optics.exposure import ev100, snap_f_number
from audit.say import marked

_USED = ("lens_id", "focal_length_mm", "f_number", "exposure_time_exact_s", "iso")


def fill_manual(frames: pd.DataFrame, spans: list[Judged | None], kit: Kit) -> pd.DataFrame:
    """Focal length, f-number and ev100 where the file has none and kit or span know them.

    A zoom without contacts has no focal length to give. `f_number_basis` says kit, or declared for the span.
    """
    table = frames.copy()
    lenses = {lens.id: lens for lens in kit.lenses if lens.no_contacts}
    for at, row, span in zip(frames.index, records(frames, _USED), spans, strict=True):
        lens = lenses.get(row["lens_id"])
        if lens is not None:
            _fill(table, at, row, lens, span)
    return table


def _fill(table: pd.DataFrame, at: object, row: dict[str, Any], lens: Lens, span: Judged | None) -> None:
    if pd.isna(row["focal_length_mm"]) and lens.focal_mm[0] == lens.focal_mm[1]:
        table.at[at, "focal_length_mm"] = lens.focal_mm[0]
    declared = span.worn.f_number if span is not None else None
    f_number = declared if declared is not None else lens.f_number
    if f_number is None or not pd.isna(row["f_number"]):
        return
    exact, _ = snap_f_number(f_number)
    table.at[at, "f_number"] = f_number
    table.at[at, "f_number_exact"] = exact
    table.at[at, "f_number_basis"] = marked("declared") if declared is not None else marked("kit")
    time_s, iso = row["exposure_time_exact_s"], row["iso"]
    if not pd.isna(time_s) and not pd.isna(iso) and time_s > 0 and iso > 0:
        table.at[at, "ev100"] = ev100(exact, time_s, iso)
