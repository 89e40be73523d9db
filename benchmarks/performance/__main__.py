"""Runs every part, writes docs/performance.md and its JSON: `python -m benchmarks.performance [--quick]`."""

from __future__ import annotations

import argparse
import json
import os
import platform
import tempfile
from importlib import metadata
from pathlib import Path

from benchmarks.performance import audits, header, pixels, reports, startup, tables
from benchmarks.performance.page import page
from benchmarks.performance.rounds import Figure

DOCS = Path(__file__).parents[2] / "docs"
LIBRARIES = ("exifread", "numpy", "pandas", "pillow", "pyarrow", "jinja2")


def measured(place: Path, *, quick: bool) -> list[Figure]:
    """Every figure; `quick` with fewer frames and rounds, to see that all of it runs."""
    rounds, frames, pictures = (1, 200, 3) if quick else (5, 4_000, 12)
    sizes, pages, data = ((200, 400), (200,), 0) if quick else (tables.SIZES, (1_000, 5_000), 100_000)
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a user's modules are compiled once, not each time
    os.environ["XDG_CACHE_HOME"] = str(place / "kept")  # never the user's own
    return [
        *startup.figures(place, rounds),
        *header.figures(place, frames // 4, rounds),
        *pixels.figures(place, rounds, pictures),
        *tables.figures(sizes),
        *reports.figures(place / "reports", pages, data),
        *audits.figures(place, frames, rounds),
    ]


def machine() -> dict[str, str]:
    """What it ran on."""
    versions = {name: metadata.version(name) for name in LIBRARIES}
    return {"cores": str(os.cpu_count()), "python": platform.python_version(), **versions}


def main() -> None:
    """Measures, prints, writes."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true", help="few frames and rounds; docs stay as they are")
    quick = parser.parse_args().quick
    with tempfile.TemporaryDirectory() as place:
        figures = measured(Path(place), quick=quick)
    text = page(figures, machine())
    print(text)
    if not quick:
        (DOCS / "performance.md").write_text(text, encoding="utf-8")
        told = {"machine": machine(), "figures": [figure.plain() for figure in figures]}
        (DOCS / "performance.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
