"""One simulated trip for all tests of this folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from audit.demo import write_trip


@pytest.fixture(scope="session")
def trip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The dump of a freshly written trip; the truth lies beside it."""
    return write_trip(tmp_path_factory.mktemp("demo") / "new")


@pytest.fixture(scope="session")
def truth(trip: Path) -> dict[str, Any]:
    table: dict[str, Any] = json.loads((trip.parent / "truth.json").read_text(encoding="utf-8"))
    return table
