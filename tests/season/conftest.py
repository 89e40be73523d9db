"""Small seasons: synthetic ones of the benchmark, and archives of a few frames by hand."""

import json
import shutil
import sys
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from audit.report.data import parquet_bytes

pytest.importorskip("duckdb", reason='duckdb is absent: no season (pip install "cornerstop[season]")')
sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[2])]  # for season_rows and benchmarks


@pytest.fixture
def archive(tmp_path):
    """A function that writes an archive of some rows below tmp_path/season."""

    from season_rows import KIT, frame_table

    def write(name, rows, *, findings=(), kit=KIT, drop=(), version=1, digests=None):
        bag = tmp_path / "season" / name
        knowledge = bag / "data" / "knowledge"
        knowledge.mkdir(parents=True)
        (knowledge / "frames.parquet").write_bytes(parquet_bytes(frame_table(rows)))
        if drop:
            table = pq.read_table(knowledge / "frames.parquet")
            pq.write_table(table.drop_columns(list(drop)), knowledge / "frames.parquet")
        found = [{"check": check, "level": level, "frames": list(names)} for check, level, names in findings]
        tool = {"name": "cornerstop", "version": f"0.{version}.{len(drop)}"}
        record = {"schema_version": version, "tool": tool, "findings": found}
        (knowledge / "findings.json").write_text(json.dumps(record), encoding="utf-8")
        if kit is not None:
            (knowledge / "kit.toml").write_text(kit, encoding="utf-8")
        (bag / "bagit.txt").write_text("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")
        (bag / "bag-info.txt").write_text("Cornerstop-Bag-Form: 1\n")
        names = [row["files"][0] for row in rows]
        sums = digests or [f"{hash((name, n)) % 2**64:0128x}" for n in names]
        lines = "".join(f"{d}  data/pictures/{n}\n" for d, n in sorted(zip(sums, names, strict=True)))
        (bag / "manifest-sha512.txt").write_text(lines, encoding="utf-8")
        return bag

    write.folder = tmp_path / "season"
    return write


@pytest.fixture(scope="session")
def synthetic(tmp_path_factory):
    """Sixty archives of forty frames, two of them with frames of the one before; only read."""
    from benchmarks.season import make

    folder = tmp_path_factory.mktemp("synthetic") / "season"
    make(folder, 60, 40)
    return folder


@pytest.fixture
def copied(synthetic, tmp_path):
    """The first four of them, to be spoilt."""
    for bag in sorted(synthetic.iterdir())[:4]:
        shutil.copytree(bag, tmp_path / "season" / bag.name)
    return tmp_path / "season"
