"""What several test folders share: a builder for frame tables, and the demo trip."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import settings

from audit.demo import write_trip
from audit.table.columns import ALL

settings.register_profile("unhurried", deadline=None)  # a busy machine proves nothing wrong
settings.load_profile("unhurried")

sys.path.insert(0, str(Path(__file__).parent))  # for `marking`, the language that shows what was not told

USUAL = {
    "folder": "100BRAT",
    "formats": "JPEG",
    "size_bytes": 40_000,
    "model": "Brattholm Tarn",
    "lens": "Sund 16-35 mm f4",
    "captured_at": "2026-05-02 10:00:00",
    "exposure_time_s": 0.01,
    "exposure_time_exact_s": 0.01,
    "white_balance": "fixed",
    "f_number": 8.0,
    "f_number_exact": 8.0,
    "iso": 100.0,
    "ev100": 12.6,
    "exposure_mode": "auto",
    "exposure_program": "aperture priority",
    "flash_fired": False,
    "focal_length_mm": 24.0,
    "body": "A",
    "clock_ahead_s": 0.0,
    "sensor_width_mm": 36.0,
    "sensor_height_mm": 24.0,
    "sensor_err": 0.0,
    "declaration": "bare",
    "declaration_source": "photographer",
    "rig": "bare",
    "stitched": False,
    "rig_words": "bare",
    "mount_words": "77 mm ring, holder",
    "even_stops_min": 0.0,
    "even_stops_max": 0.0,
    "grad_stops": 0.0,
    "stops_words": "0",
}


def build(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """A table with every column: what a row leaves out is a usual frame's, or null."""
    full = [
        {**USUAL, "frame": f"100BRAT/TARN{i:04d}", "counter": i, **row} for i, row in enumerate(rows, 101)
    ]
    return pd.DataFrame({c.name: c.kind.series(row.get(c.name) for row in full) for c in ALL})


@pytest.fixture(scope="session")
def table() -> Callable[[Sequence[Mapping[str, Any]]], pd.DataFrame]:
    return build


def once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], object]) -> Path:
    """A folder that `make` fills, once for all processes of a run; it is only read."""
    shared = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    folder = shared / name
    with _alone(shared / f"{name}.lock"):
        if not folder.exists():
            make(folder)
    return folder


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """One process at a time; where there are no such locks, tests run in one process anyway."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with path.open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


@pytest.fixture(scope="session")
def skarven(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo trip in small pictures: trip/, truth.json beside it."""
    return once(tmp_path_factory, "skarven", partial(write_trip, small=True))


@pytest.fixture(scope="session")
def demo_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which `cornerstop demo --small --out skarven` of this checkout has run."""

    def run(folder: Path) -> None:
        folder.mkdir()
        command = [sys.executable, "-m", "audit", "demo", "-q", "--small", "--out", str(folder / "skarven")]
        subprocess.run(command, check=True, cwd=Path(__file__).parents[1])

    return once(tmp_path_factory, "demo-run", run)
