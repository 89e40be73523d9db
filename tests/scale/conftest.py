from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pandas as pd
import pytest

from audit.crew.crew import Crew
from audit.jobs.audit import audit
from audit.result import Result

pytest.importorskip("distributed", reason="needs cornerstop[scale]")


@pytest.fixture(scope="session")
def alone(skarven: Path) -> Result:
    """The demo trip, audited by one process."""
    return audit(skarven / "trip", pixels="full")


@pytest.fixture
def trip_frames(alone: Result) -> pd.DataFrame:
    return alone.frames


@pytest.fixture(scope="session")
def cluster() -> Iterator[object]:
    from audit.scale.cluster import Cluster

    with Crew(2):
        one = Cluster()
    yield one
    one.close()
