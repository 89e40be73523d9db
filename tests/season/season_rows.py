"""Frames by hand for archives of a few."""

from pathlib import Path

import pandas as pd

from audit.table import columns

FIXTURES = Path(__file__).parents[2] / "fixtures" / "season"
KIT = """
[[filter]]
id = "n6"
kind = "neutral"
stops = 6

[[filter]]
id = "n10"
kind = "neutral"
stops = 10
"""
WORN = {
    "declaration": "worn",
    "declaration_source": "photographer",
    "rig": "aaaaaaaa",
    "rig_words": "77 mm ring, holder: 6-stop neutral",
    "mount_words": "77 mm ring, holder",
    "filters": ["n6"],
    "corner_verdict": "clear",
    "corner_verdict_by": "predicted",
    "lens": "Sund 16-35 mm f4",
    "focal_length_mm": 16.0,
}


def frame_table(rows):
    """Rows as the frame table, with every column."""
    return pd.DataFrame({c.name: c.kind.series(row.get(c.name) for row in rows) for c in columns.ALL})


def frame(number, day="2024-05-01", **changes):
    """A row of frame `number`: worn, of a setup of its own."""
    name = f"Ravnsund/TARN{number:04d}"
    at = pd.Timestamp(day) + pd.Timedelta(minutes=number)
    own = {"frame": name, "files": [f"{name}.JPG"], "setup": name, "size_bytes": 10**6 + number}
    return WORN | own | {"captured_at": at, "clock_at": at} | changes
