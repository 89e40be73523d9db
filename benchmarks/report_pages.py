"""How long the report of a large trip takes to write, how large it is, and how soon a browser shows it.

    python benchmarks/report_pages.py [FRAMES]

The demo trip is laid side by side until there are enough frames; nothing is told of other trips.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import pandas as pd
from playwright.sync_api import Page, sync_playwright

from audit import report
from audit.demo import write_trip
from audit.model.result import Result
from audit.pipeline import audit

PAINTED = "Math.round(performance.getEntriesByName('first-contentful-paint')[0].startTime)"
ACTED = """(act => { const start = performance.now(); act(); document.body.offsetHeight;
  return Math.round(performance.now() - start); })"""
PICK = """() => { const level = document.querySelector('select[name=level]'); level.value = 'act';
  level.dispatchEvent(new Event('change', { bubbles: true })); }"""
SORT = "() => document.querySelectorAll('thead button')[5].click()"


def laid_out(result: Result, frames: int) -> Result:
    """The trip again and again, four on a day, with names, setups and findings of their own."""
    tables, findings = [], []
    for n in range(-(-frames // len(result.frames))):
        later = pd.Timedelta(days=3 * (n // 4), minutes=7 * (n % 4))
        table = result.frames.assign(captured_at=result.frames["captured_at"] + later)
        for name in ("frame", "folder", "setup"):
            table[name] = f"{n}/" + table[name]
        tables.append(table)
        findings += [replace(f, frames=tuple(f"{n}/{name}" for name in f.frames)) for f in result.findings]
    whole = pd.concat(tables, ignore_index=True)
    return replace(result, frames=whole, findings=tuple(findings), evidence={})


def shown(page: Page, file: Path) -> int:
    """First contentful paint, ms."""
    page.goto(file.as_uri())
    page.wait_for_timeout(500)
    return int(page.evaluate(PAINTED))


def main() -> None:
    """Prints every figure."""
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        write_trip(Path(place) / "demo")
        trip = laid_out(audit(Path(place) / "demo" / "trip"), wanted)
        start = time.perf_counter()
        out = report.write(trip, Path(place) / "out")
        took = time.perf_counter() - start
        size = sum(file.stat().st_size for file in out.rglob("*") if file.is_file())
        count = len(trip.frames)
        print(f"{count} frames: {took:.1f} s, {1000 * took / count:.1f} s per 1,000; {size / 1e6:.0f} MB")
        page = play.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"]).new_page()
        day = sorted((out / "run-0001").glob("2*.html"))[0].name
        for name in ("index.html", "findings.html", "frames.html", day, "print.html"):
            file = out / "run-0001" / name
            print(f"{name:18} {file.stat().st_size / 1e3:6.0f} kB, first paint {shown(page, file):4} ms")
        page.goto((out / "run-0001" / "frames.html").as_uri())
        print(f"sort {page.evaluate(f'{ACTED}({SORT})')} ms, pick {page.evaluate(f'{ACTED}({PICK})')} ms")


if __name__ == "__main__":
    main()
