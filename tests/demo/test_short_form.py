"""The demo's declarations, written short, say what they say at full length."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from audit.declare import add_gear, join, load
from audit.demo.declared import declarations
from audit.demo.plan import TRIP
from audit.demo.schedule import frames as scheduled
from audit.scan import scan


def test_the_same_trip_in_both_forms(trip: Path, tmp_path: Path) -> None:
    frames = scheduled(TRIP)
    short, long = declarations(frames), declarations(frames, short=False)
    for home, text in long.items():
        (tmp_path / home).mkdir()
        (tmp_path / home / "filters.toml").write_text(text, encoding="utf-8")
    scanned = scan(trip).frames
    tables = []
    for mirror in (None, tmp_path):
        loaded = load(trip, mirror=mirror)
        joined = join(add_gear(scanned, loaded.kit), loaded.kit, loaded.declarations)
        tables.append(joined.frames.drop(columns="declared_in"))
    pd.testing.assert_frame_equal(*tables)
    lines = [sum(text.count("\n") for text in one.values()) for one in (short, long)]
    letters = [sum(map(len, one.values())) for one in (short, long)]
    assert lines[0] < lines[1] / 2 and letters[0] < 0.65 * letters[1]
