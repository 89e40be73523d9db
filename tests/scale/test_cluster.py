"""An audit by workers is the audit of one process, row for row; also where workers are lost on the way."""

from __future__ import annotations

import os
import signal

import pandas as pd
import pyarrow.parquet as pq
import pytest
from same import same_result

from audit import report
from audit.cli.entry import run
from audit.crew.crew import crew_at_work
from audit.errors import AuditError
from audit.exposure.partitions import TOGETHER, partition_of
from audit.jobs.audit import audit
from audit.pixels import readers
from audit.scale import cluster as scale
from audit.scale.cluster import Cluster


class AtWork:
    """A cluster in a with block that leaves it open for the next test."""

    def __init__(self, cluster: Cluster) -> None:
        self._cluster, self._close = cluster, cluster.close

    def __enter__(self) -> Cluster:
        self._cluster.close = lambda: None  # type: ignore[method-assign]
        return self._cluster.__enter__()  # type: ignore[return-value]

    def __exit__(self, *error: object) -> None:
        self._cluster.__exit__(*error)
        self._cluster.close = self._close  # type: ignore[method-assign]


def test_equal_row_for_row_and_written_by_partitions(skarven, alone, cluster, tmp_path, monkeypatch):
    cache = tmp_path / "cache" / "pixels.sqlite"
    here: list[str] = []
    decode = readers.from_picture
    with AtWork(cluster), monkeypatch.context() as patch:
        patch.setattr(readers, "from_picture", lambda file: here.append(file.shown) or decode(file))
        found = audit(skarven / "trip", pixels="full", cache=cache)
        written = report.write(found, tmp_path / "out", pictures="none").run
    same_result(found, alone)
    assert len(set(here)) < 5 < len(found.frames)  # only what no worker could decode is tried again here
    parts = sorted((written / "frames").glob("*.parquet"))
    assert len(parts) == partition_of(found.frames).nunique() > 1
    whole = pq.read_table(written / "frames.parquet").to_pandas()
    together = pd.concat([pq.read_table(part).to_pandas() for part in parts])
    by_frame = together.set_index("frame").loc[whole["frame"]].reset_index()
    pd.testing.assert_frame_equal(by_frame[list(whole)], whole, check_dtype=False)


def test_nothing_crosses_a_partition_of_the_demo_trip(alone):
    place = partition_of(alone.frames)
    for name in TOGETHER:
        assert (place.groupby(alone.frames[name]).nunique() <= 1).all()


def test_lost_workers_cost_nothing_but_time(skarven):
    one, killed = Cluster(workers=2), []
    each = one.each
    one.each = lambda job, tasks, batch=4: each(job, tasks, 4)  # type: ignore[method-assign]

    def kill(done: int, _total: int) -> None:
        if done in (20, 60):
            killed.append(next(iter(one.client.run(os.getpid).values())))
            os.kill(killed[-1], signal.SIGKILL)

    with one:
        found = audit(skarven / "trip", pixels="off", tick=kill)
    assert len(killed) == one.lost == 2
    pd.testing.assert_frame_equal(found.frames, audit(skarven / "trip", pixels="off").frames)


def test_the_command_spreads_its_work(skarven, cluster, tmp_path, capsys):
    address = cluster.client.scheduler.address
    words = ["audit", str(skarven / "trip"), "--pixels", "off", "--no-cache", "--quiet"]
    code = run([*words, "--out", str(tmp_path / "far"), "--scheduler", address])
    assert code == run([*words, "--out", str(tmp_path / "near")])
    assert "lost" not in capsys.readouterr().err and not crew_at_work().far
    for name in ("frames.csv", "findings.json"):
        far, near = (tmp_path / where / "newest" / name for where in ("far", "near"))
        assert far.read_bytes() == near.read_bytes()


def test_no_scheduler_is_told_in_one_line(monkeypatch):
    monkeypatch.setattr(scale, "ANSWERS_WITHIN_S", 0.5)
    with pytest.raises(AuditError, match="nobody answers there"):
        Cluster("tcp://127.0.0.1:9")
