"""The main job on the demo trip, against its simulator's truth; and on real files where they are at hand."""

import json
from pathlib import Path

import jsonschema
import pandas as pd
import pyarrow.parquet as pq
import pytest

from audit import report
from audit.demo.score import score
from audit.jobs.audit import audit
from audit.table.columns import ALL

ROOT = Path(__file__).parents[1]
SHARED = ROOT.parent / "shared"
UNPLANTED = {"corner-stack", "corner-hint", "gear-missing", "clocks-apart", "other-trip"}
"""Nothing is planted: the first needs dozens of compositions with one rig, the second is only a hint; the
demo's photographer copied the names of the gear from EXIF, compared clocks and emptied the card before."""
OUTPUTS = ("report.html", "frames.parquet", "frames.csv", "findings.json", "orders.csv")


@pytest.fixture(scope="module")
def trip(skarven):
    return skarven


@pytest.fixture(scope="module")
def result(trip):
    return audit(trip / "trip")


@pytest.fixture(scope="module")
def truth(trip):
    return json.loads((trip / "truth.json").read_text(encoding="utf-8"))


def test_every_planted_mistake_is_found_and_no_look_alike_is_reported(result, truth):
    scored = score(truth, [(f.check, f.level, f.frames) for f in result.findings])
    assert scored.missed == ()
    assert scored.false == ()
    assert scored.found == scored.planted >= 13
    assert scored.innocent >= scored.planted


def test_every_check_ran_and_has_something_planted(result, truth):
    assert {run.outcome for run in result.checks} == {"ran"}
    assert {run.info.id for run in result.checks} - UNPLANTED == {p["check"] for p in truth["planted"]}


def test_corner_verdicts_hold_against_rays(result, truth):
    """Clear and cut are promises: the simulated loss must keep them. At risk promises nothing.

    The promise holds for the rig declared: where another one was on, the pictures must have told.
    """
    told = {frame for f in result.findings if f.check == "corners-shown" for frame in f.frames}
    checked = {"clear": 0, "cut": 0}
    for row in result.frames.itertuples():
        ray = truth["corners"].get(row.frame)
        if ray is None or row.corner_verdict not in checked or row.light_residual_stops > 1:
            continue
        loss = float("inf") if ray["loss_stops"] is None else ray["loss_stops"]
        kept = loss < 0.1 if row.corner_verdict == "clear" else loss >= 0.5
        assert kept or (ray["worn"] != row.declaration and row.frame in told), row.frame
        checked[row.corner_verdict] += 1
    assert min(checked.values()) >= 5


def test_the_counts_add_up(result):
    in_frames = sum(len(files) for files in result.frames["files"])
    assert in_frames + len(result.passed_over) == result.files_seen
    assert result.frames["frame"].is_unique
    declared = result.frames["declaration"].value_counts()
    assert declared.sum() == len(result.frames)


def test_the_table_has_every_column_once(result):
    assert list(result.frames.columns) == [c.name for c in ALL]


def test_files_out_follow_their_schemas(result, tmp_path):
    out = report.write(result, tmp_path / "out").out
    schema = json.loads((ROOT / "docs" / "findings.schema.json").read_text(encoding="utf-8"))
    found = json.loads((out / "newest" / "findings.json").read_text(encoding="utf-8"))
    jsonschema.validate(found, schema)
    table = pq.read_table(out / "newest" / "frames.parquet")
    assert table.num_rows == len(result.frames)
    assert table.schema.field("exposure_time_s").metadata[b"unit"] == b"s"
    assert not [c.name for c in ALL if c.private and c.name in table.column_names]
    assert len(pd.read_csv(out / "newest" / "frames.csv")) == len(result.frames)


def test_same_inputs_give_the_same_bytes(trip, result, tmp_path):
    first, second = (
        report.write(result, tmp_path / "a").out,
        report.write(audit(trip / "trip"), tmp_path / "b").out,
    )
    files = sorted(p.relative_to(first) for p in first.rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(second) for p in second.rglob("*") if p.is_file())
    assert set(OUTPUTS) <= {name.name for name in files}
    for name in files:
        assert (first / name).read_bytes() == (second / name).read_bytes(), name


def test_declarations_from_a_mirror_tree_give_the_same_join(trip, result, tmp_path):
    """The dump without declarations, as on a card that cannot be written, and the declarations beside it."""
    dump, mirror = trip / "trip", tmp_path / "mirror"
    for file in dump.rglob("filters.toml"):
        target = mirror / file.relative_to(dump)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(file.read_bytes())
    mirrored = audit(dump, declarations=mirror).frames
    assert mirrored["declaration"].tolist() == result.frames["declaration"].tolist()
    assert mirrored["rig"].tolist() == result.frames["rig"].tolist()


@pytest.mark.parametrize("name", ["photos", "hostile"])
def test_real_and_malformed_files_come_through(name, tmp_path, capfd):
    folder = SHARED / name
    if not folder.is_dir():
        pytest.skip(f"no {folder}")
    result = audit(folder)
    report.write(result, tmp_path / "out")
    assert not [run.outcome for run in result.checks if run.status == "failed"]
    seen = sum(1 for p in folder.rglob("*") if p.is_file())
    assert result.files_seen == seen
    assert sum(map(len, result.frames["files"])) + len(result.passed_over) == seen
    assert capfd.readouterr() == ("", "")
