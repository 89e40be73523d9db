"""An audit comes to the same whoever reads the files, and whether or not an earlier one has kept anything."""

from __future__ import annotations

from pathlib import Path

import pytest
from same import same_result

from audit.crew.crew import Crew
from audit.jobs.audit import audit
from audit.report.data import csv_parts, findings_text, parquet_bytes
from audit.result import Result


@pytest.fixture(scope="module")
def plain(skarven: Path) -> Result:
    """The demo trip by one process, with nothing kept."""
    return audit(skarven / "trip", pixels="full")


def same(one: Result, other: Result) -> None:
    same_result(one, other)
    assert parquet_bytes(one.frames) == parquet_bytes(other.frames)
    assert list(csv_parts(one.frames)) == list(csv_parts(other.frames))
    assert findings_text(one) == findings_text(other)


@pytest.mark.parametrize("workers", [1, 2, 4])
def test_by_any_number_of_workers_cold_and_kept(
    plain: Result, skarven: Path, tmp_path: Path, workers: int
) -> None:
    cache = tmp_path / "cache" / "pixels.sqlite"
    for _ in range(2):
        with Crew(workers):
            found = audit(skarven / "trip", pixels="full", cache=cache)
        assert found.unkept == ""
        same(found, plain)
    names = {path.name for path in cache.parent.iterdir()}
    assert {"headers.sqlite", "pixels.sqlite", "pairs.sqlite"} <= names
    same(audit(skarven / "trip", pixels="full", cache=cache), plain)
