"""How large a report of a long trip is, how long it takes to write, and how quick it is in a browser.

    python benchmarks/report.py TRIP [FRAMES]

TRIP is a dump, for instance `trip` of `cornerstop demo`; its frames are repeated under new names and on later
days until there are FRAMES (5000). Each repeated thumbnail differs by a comment, so that each is encoded and
stored again. Pages are opened from disk in Chromium, one new window each; times are medians of TRIES. They
stand beside that of an empty page in the same browser, and the whole beside TRIP's own report.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
from playwright.sync_api import sync_playwright

from audit import report
from audit.finding import Finding
from audit.jobs.audit import audit
from audit.pixels.evidence import Evidence
from audit.result import Result

CHROMIUM, TRIES, LEGS, SETTLED_MS = "/usr/bin/chromium", 5, 4, 1000
NAMING = ("frame", "scene", "bracket", "reference_frame", "sequence_of", "setup", "pair_with", "stack")
"""Columns that hold names of frames, or names made of them."""

PAINTED = """() => new Promise(done => {
    const told = () => performance.getEntriesByName('first-contentful-paint')[0];
    const wait = () => told() ? done(told().startTime) : setTimeout(wait, 5);
    wait();
})"""
FRAMED = """(act) => new Promise(done => {
    const start = performance.now();
    act();
    document.body.offsetHeight;
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - start), 0));
})"""
CHANGED = (
    "(e => { e.value = e.value ? '' : 'VALUE'; e.dispatchEvent(new Event('EVENT', {bubbles: true})); })"
    "(document.querySelector('FIELD'))"
)
ACTS = {
    "narrowed by level": ("select[name=level]", "act", "change"),
    "narrowed by words": ("input[name=text]", "neutral", "input"),
    "put in order of loss": ("select[name=sort]", "-loss", "change"),
    "put in order of names": ("select[name=sort]", "name", "change"),
}
ONE = "document.querySelectorAll('tbody .box')[7].click()"


def acts() -> dict[str, str]:
    """What is done on the page of all frames, by its words."""
    made = {}
    for words, (field, value, event) in ACTS.items():
        act = CHANGED.replace("VALUE", value).replace("EVENT", event).replace("FIELD", field)
        made[words] = FRAMED.replace("act()", act)
    picked = "document.querySelector(document.querySelector('[data-taken]') ? '[name=drop]' : '[name=take]')"
    made["all picked, or let go"] = FRAMED.replace("act()", f"{picked}.click()")
    made["one picked, or let go"] = FRAMED.replace("act()", ONE)
    return made


def commented(jpeg: Any, number: int) -> Any:
    """The JPEG with a comment that tells it from its copies."""
    if not isinstance(jpeg, bytes) or jpeg[:2] != b"\xff\xd8":
        return jpeg
    return jpeg[:2] + b"\xff\xfe\x00\x06" + number.to_bytes(4, "big") + jpeg[2:]


def leg(frames: pd.DataFrame, n: int) -> pd.DataFrame:
    """The frames once more below a folder of their own; every LEGS legs come the next days."""
    made = frames.copy()
    days = (frames["captured_at"].max() - frames["captured_at"].min()).days + 1
    made["captured_at"] += pd.Timedelta(days=days * (n // LEGS), seconds=97 * (n % LEGS))
    for column in NAMING:
        made[column] = [f"{n:03d}/{v}" if isinstance(v, str) else v for v in frames[column]]
    made["folder"] = [f"{n:03d}" if v == "." else f"{n:03d}/{v}" for v in frames["folder"]]
    made["files"] = [[f"{n:03d}/{file}" for file in files] for files in frames["files"]]
    made["thumbnail_jpeg"] = [commented(j, n) for j in frames["thumbnail_jpeg"]]
    return made


def longer(trip: Result, count: int) -> Result:
    """The trip repeated until it has `count` frames, with its findings and evidence."""
    legs = range(-(-count // len(trip.frames)))
    frames = pd.concat([leg(trip.frames, n) for n in legs], ignore_index=True).iloc[:count]
    there = set(frames["frame"])

    def renamed(finding: Finding, n: int) -> Finding:
        return replace(finding, frames=tuple(f"{n:03d}/{f}" for f in finding.frames))

    found = [renamed(finding, n) for finding in trip.findings for n in legs]
    evidence = {
        f"{n:03d}/{name}": Evidence(f"{n:03d}/{e.frame}", f"{n:03d}/{e.against}", e.darker)
        for n in legs
        for name, e in trip.evidence.items()
    }
    return replace(
        trip,
        frames=frames,
        files_seen=sum(len(files) for files in frames["files"]) + len(trip.passed_over),
        findings=tuple(f for f in found if there.issuperset(f.frames)),
        evidence={k: e for k, e in evidence.items() if {k, e.against} <= there},
    )


def folder(out: Path) -> str:
    """Size of the folder, its largest pages and its largest picture."""
    files = [p for p in out.rglob("*") if p.is_file()]
    pages = sorted((p for p in files if p.suffix == ".html"), key=lambda p: p.stat().st_size)
    pictures = [p.stat().st_size for p in files if p.suffix == ".jpg"]
    whole = sum(p.stat().st_size for p in files)
    weights = ", ".join(f"{p.name} {p.stat().st_size / 1e6:.2f} MB" for p in pages[-4:])
    return (
        f"{weights}\n  {whole / 1e6:.1f} MB in {len(files)} files; "
        f"{len(pages)} pages; {len(pictures)} pictures, {max(pictures, default=0) / 1e3:.1f} kB the largest"
    )


def painted(browser: Any, file: Path) -> float:
    """Median time to the first contentful paint, ms, each time in a new window."""
    took = []
    for _ in range(TRIES):
        page = browser.new_page()
        page.goto(file.as_uri())
        took.append(page.evaluate(PAINTED))
        page.close()
    return statistics.median(took)


def answered(browser: Any, file: Path, what: str) -> tuple[float, float]:
    """Median times of an act on a loaded page, ms: until its next frame, and of that the page's own work.

    The work is processor time of the page's thread; it says what the page costs where other programs run too.
    """
    page = browser.new_page()
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    page.goto(file.as_uri())
    page.wait_for_timeout(SETTLED_MS)
    took, worked = [], []
    for _ in range(TRIES):
        before = work(session)
        took.append(page.evaluate(what))
        worked.append(work(session) - before)
    page.close()
    return statistics.median(took), statistics.median(worked)


def work(session: Any) -> float:
    """Processor time of a page's thread so far, ms."""
    told = session.send("Performance.getMetrics")["metrics"]
    return 1000 * float(next(one["value"] for one in told if one["name"] == "TaskDuration"))


def browse(browser: Any, out: Path, empty: Path) -> None:
    """Prints the times of the pages of one report."""
    run, nothing = next(out.glob("run-*")), painted(browser, empty)
    days = sorted(run.glob("[0-9]*.html"), key=lambda p: p.stat().st_size)
    print(f"  first contentful paint of an empty page {nothing:.0f} ms")
    for file in (*(run / f"{name}.html" for name in ("index", "findings", "frames", "print")), days[-1]):
        took = painted(browser, file)
        print(f"  {file.name:16} {took:5.0f} ms, x {took / nothing:.1f}")
    frames = run / "frames.html"
    for words, what in acts().items():
        took, worked = answered(browser, frames, what)
        print(f"  all frames {words}: {took:.0f} ms to the next frame drawn, {worked:.0f} ms of it work")


def main(dump: Path, count: int) -> None:
    """Writes the short and the long report and measures both."""
    short = audit(dump)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as play:
        empty = Path(place) / "empty.html"
        empty.write_text("<!doctype html><title>empty</title><p>empty")
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        per_frame = []
        for trip in (short, longer(short, count)):
            out, start = Path(place) / str(len(trip.frames)), time.perf_counter()
            report.write(trip, out)
            per_frame.append((time.perf_counter() - start) / len(trip.frames))
            print(f"{len(trip.frames)} frames, {len(trip.findings)} findings: {folder(out)}")
            print(f"  written in {1000 * per_frame[-1]:.2f} s per 1,000 frames")
            browse(browser, out, empty)
        print(f"per frame, long to short: x {per_frame[1] / per_frame[0]:.2f}")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 5000)
