from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from audit.jobs.audit import audit
from audit.result import Result
from audit.scale.cluster import Cluster

pytest.importorskip("distributed", reason="needs cornerstop[scale]")


@pytest.fixture(scope="session")
def alone(skarven: Path) -> Result:
    """The demo trip, audited by one process."""
    return audit(skarven / "trip", pixels="full")


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    one = Cluster(workers=2)
    yield one
    one.close()
