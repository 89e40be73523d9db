"""An audit by workers is the audit of one process, row for row; also where workers are lost on the way."""

from __future__ import annotations

import os
import signal

import pandas as pd
import pyarrow.parquet as pq
import pytest

from audit import report
from audit.crew.crew import Crew
from audit.errors import AuditError
from audit.jobs.audit import audit
from audit.result import Result
from audit.scale import cluster as scale
from audit.scale.cluster import Cluster


def same(one: Result, other: Result) -> None:
    pd.testing.assert_frame_equal(one.frames, other.frames)
    pd.testing.assert_frame_equal(one.passed_over, other.passed_over)
    assert one.findings == other.findings and one.mistakes == other.mistakes
    assert repr(one.filters) == repr(other.filters) and repr(one.curves) == repr(other.curves)
    assert one.evidence.keys() == other.evidence.keys()


def test_equal_row_for_row_and_written_by_partitions(skarven, alone, cluster, tmp_path):
    found = audit(skarven / "trip", pixels="full", cache=tmp_path / "pixels.sqlite", cluster=cluster)
    same(found, alone)
    run = report.write(found, tmp_path / "out", pictures="none").run
    parts = sorted((run / "frames").glob("*.parquet"))
    assert len(parts) == found.partitions.nunique() > 1
    whole = pq.read_table(run / "frames.parquet").to_pandas()
    together = pd.concat([pq.read_table(part).to_pandas() for part in parts])
    by_frame = together.set_index("frame").loc[whole["frame"]].reset_index()
    pd.testing.assert_frame_equal(by_frame[list(whole)], whole, check_dtype=False)


def test_lost_workers_cost_nothing_but_time(skarven, monkeypatch):
    monkeypatch.setattr(scale, "FILES_A_TASK", 4)
    killed: list[int] = []
    with Crew(2):
        one = Cluster()

    def kill(done: int, _total: int) -> None:
        if done in (20, 60):
            killed.append(next(iter(one._client.run(os.getpid).values())))
            os.kill(killed[-1], signal.SIGKILL)

    try:
        found = audit(skarven / "trip", pixels="off", cluster=one, progress=kill)
    finally:
        one.close()
    assert len(killed) == one.lost == 2
    pd.testing.assert_frame_equal(found.frames, audit(skarven / "trip", pixels="off").frames)


def test_no_scheduler_is_told_in_one_line(monkeypatch):
    monkeypatch.setattr(scale, "ANSWERS_WITHIN_S", 0.5)
    with pytest.raises(AuditError, match="nobody answers there"):
        Cluster("tcp://127.0.0.1:9")
