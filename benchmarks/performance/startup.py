"""Start-up: what the command costs before it has done anything, beside the imports it cannot do without."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from benchmarks.performance.files import dump
from benchmarks.performance.rounds import Figure, timed

PYTHON = sys.executable
NEEDED = (
    *("click", "numpy", "pandas", "pyarrow", "pydantic", "jinja2", "tomlkit", "exifread", "astral", "babel"),
    *("lensfunpy", "PIL.Image", "rich.progress", "sqlite3"),
)
"""What an audit imports of others' code, whichever way it goes."""
FRAMES = 50


def run(*words: object) -> None:
    """A process, to its end; a finding is no failure."""
    done = subprocess.run([str(word) for word in words], capture_output=True)
    if done.returncode not in (0, 1):
        raise RuntimeError(done.stderr.decode())


def figures(place: Path, rounds: int) -> list[Figure]:
    """Help against click, an audit of 50 frames against its imports, in ms of the clock."""
    trip = dump(place / "fifty", FRAMES)
    imports = "import " + ", ".join(NEEDED)
    told = timed(
        "start",
        {
            "python -c 'import click'": lambda: run(PYTHON, "-c", "import click"),
            "cornerstop --help": lambda: run(PYTHON, "-m", "audit", "--help"),
        },
        against="python -c 'import click'",
        rounds=rounds,
        unit="ms",
        aims={"cornerstop --help": "at most 150 ms or 3 x"},
    )
    audit = (PYTHON, "-m", "audit", "audit", trip, "--out", place / "out", "--pixels", "off", "--no-cache")
    return told + timed(
        "start",
        {
            "imports of an audit": lambda: run(PYTHON, "-c", imports),
            f"audit --pixels off of {FRAMES} frames": lambda: run(*audit),
        },
        against="imports of an audit",
        rounds=rounds,
        unit="ms",
        aims={f"audit --pixels off of {FRAMES} frames": "at most 2 x"},
    )
