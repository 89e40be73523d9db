"""The Airy disc of each frame against the pixels of its body."""

from __future__ import annotations

import numpy as np
import pandas as pd

from audit.optics.diffraction import airy_diameter_um, pixel_pitch_um
from audit.table.columns import filled


def add_airy(frames: pd.DataFrame) -> pd.DataFrame:
    """Fills `pixel_pitch_um` and `airy_pixels`; null where size, f-number or pixels are unknown."""
    other = frames["sensor_other_pixels"].fillna(False).to_numpy(dtype=bool)
    width_px = frames["width_px"].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    pitch = np.asarray(pixel_pitch_um(frames["sensor_width_mm"].to_numpy(dtype=float), width_px))
    pitch = np.where(other, np.nan, pitch)
    airy = airy_diameter_um(frames["f_number_exact"].to_numpy(dtype=float)) / pitch
    return filled(frames, {"pixel_pitch_um": pitch, "airy_pixels": airy})
