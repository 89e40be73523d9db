"""The frames proposed for prints: one a setup, with the reason, sets once."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from audit.prints.choose import Chosen
from audit.prints.kept import add_kept
from audit.table import columns

GOOD = {
    "setup": "s1",
    "stitched": False,
    "clipped_top": 0.0,
    "clipped_middle": 0.0,
    "clipped_bottom": 0.0,
    "corner_loss_stops": 0.0,
    "picture_stops": 0.0,
}


def table(*rows: dict[str, Any]) -> pd.DataFrame:
    """Rows by name, one a minute, like GOOD but for what they hold."""
    times = pd.date_range("2026-05-02 05:00", periods=len(rows), freq="min")
    full = [
        GOOD | {"frame": f"f{n}", "captured_at": at} | r
        for n, (at, r) in enumerate(zip(times, rows, strict=True))
    ]
    return pd.DataFrame({c.name: c.kind.series(r.get(c.name) for r in full) for c in columns.ALL})


def kept(frames: pd.DataFrame, chosen: Chosen | None = None) -> dict[str, str]:
    """Frame to the reason of each that is kept."""
    found = add_kept(frames, chosen or Chosen())
    assert (found["kept"].isna() == found["kept_why"].isna()).all()
    return dict(found.loc[found["kept"].notna(), ["frame", "kept_why"]].itertuples(index=False))


def one(*rows: dict[str, Any]) -> tuple[str, str]:
    """The only proposal."""
    ((name, why),) = kept(table(*rows)).items()
    return name, why


def test_a_frame_that_is_not_clipped_comes_first():
    name, why = one({"clipped_top": 0.2}, {"corner_loss_stops": 1.0}, {"clipped_bottom": 0.1})
    assert name == "f1"
    assert why.startswith("best of 3 pictures of its setup: not clipped, 1.0 stops lost in the corner")


def test_of_those_the_least_corner_loss():
    assert one({"corner_loss_stops": 0.6}, {"corner_loss_stops": 0.3, "picture_stops": 2.0})[0] == "f1"
    assert one({"corner_loss_stops": 0.34}, {"corner_loss_stops": 0.31})[0] == "f0"  # no tenth apart
    assert one({"corner_loss_stops": float("inf")}, {"corner_loss_stops": None})[0] == "f1"
    assert one({"corner_loss_stops": 0.4}, {"corner_loss_stops": None})[0] == "f0"


def test_what_the_pictures_show_of_the_corners_counts_too():
    seen = {"shown_loss_stops": 2.8, "shown_loss_threshold_stops": 0.5}
    assert one(seen, {"corner_loss_stops": 1.0})[0] == "f1"
    assert one({**seen, "shown_loss_stops": 0.4}, {"corner_loss_stops": 0.2})[0] == "f0"
    assert one({"corner_hint": "three corners are darker"}, {"corner_loss_stops": 0.4})[0] == "f1"


def test_of_those_the_exposure_nearest_the_setups():
    name, why = one({"picture_stops": -1.5}, {"picture_stops": 0.3}, {"picture_stops": 0.0})
    assert name == "f2"
    assert why == (
        "best of 3 pictures of its setup: not clipped, corners clear, exposed as the setup's middle"
    )


def test_light_stands_in_where_brightness_was_not_measured():
    light = [{"picture_stops": None, "light_min_ev100": ev, "light_max_ev100": ev + 1} for ev in (9, 12, 12)]
    assert one(*light)[0] == "f1"
    bare = [{"picture_stops": None, "ev100": ev} for ev in (3.0, 9.0, 10.0)]
    assert one(*bare)[0] == "f1"
    assert one({"picture_stops": None}, {"picture_stops": None}) == (
        "f0",
        "best of 2 pictures of its setup: not clipped, corners clear",
    )


def test_what_is_not_known_is_said():
    unknown = {name: None for name in GOOD if name not in ("setup", "stitched")}
    name, why = one(unknown, unknown)
    assert (name, why) == (
        "f0",
        "best of 2 pictures of its setup: clipping not measured, corners not predicted",
    )


def test_a_bracket_counts_once_and_its_middle_stands_for_it():
    bracket = [
        {"bracket": "f0", "sequence": "bracket", "sequence_of": "f0", "ev100": ev} for ev in (9, 8, 10)
    ]
    name, why = one(*bracket)
    assert (name, why) == ("f0", "the only picture of its setup, stands for a bracket of 3 frames")


def test_a_panorama_of_brackets_counts_once():
    rows = [
        {"bracket": f"b{n // 3}", "sequence": "panorama", "sequence_of": "f0", "ev100": 8.0 + n % 3}
        for n in range(9)
    ]
    assert one(*rows) == ("f0", "the only picture of its setup, stands for a panorama of 9 frames")
    declared = [{"stitched": True, "declared_in": "filters.toml:3"}] * 4
    assert one(*declared)[1].endswith("stands for a panorama of 4 frames")


def test_trials_and_unreadable_and_rejected_frames_stand_aside():
    assert one({"sequence": "trial"}, {"clipped_top": 0.5})[0] == "f1"
    assert one({"sequence": "trial"})[0] == "f0"
    frames = table({"problem": "empty file"}, {}, {"setup": None})
    assert kept(frames, Chosen(rejected=frozenset({"f1"}))) == {}
    assert list(kept(frames)) == ["f1"]


def test_what_was_chosen_is_kept_as_it_was_said():
    frames = table({}, {}, {"setup": "s2"})
    chosen = Chosen({"f1": ("keep.txt", "keep.txt, line 3"), "gone": ("keep.txt", "line 4")})
    assert kept(frames, chosen) == {"f1": "keep.txt, line 3"}
    assert add_kept(frames, chosen)["kept"].tolist()[1] == "keep.txt"
    assert list(kept(frames)) == ["f0", "f2"]


@pytest.mark.parametrize("count", [0, 1])
def test_small_tables(count):
    frames = add_kept(table(*[{}] * count), Chosen())
    assert len(frames) == count
    assert (str(frames["kept"].dtype), str(frames["kept_why"].dtype)) == ("str", "object")
