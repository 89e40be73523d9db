"""One simulated trip for all tests of this folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(scope="session")
def trip(skarven: Path) -> Path:
    """The dump; the truth lies beside it."""
    return skarven / "trip"


@pytest.fixture(scope="session")
def truth(trip: Path) -> dict[str, Any]:
    table: dict[str, Any] = json.loads((trip.parent / "truth.json").read_text(encoding="utf-8"))
    return table
