"""Very many files of which one in a hundred is hostile: do the counts add up, and what does it cost?

    python benchmarks/load.py [FILES] [FOLDER OF HOSTILE FILES]

FILES (100,000) small JPEGs in folders of a thousand, audited with pixels off, once as they are and once with
a hundredth of them replaced by hostile ones (default: fixtures/hostile, or ../shared/hostile beside the
project). Told are the counts of frames, of files passed over and of files seen, and the ratio of the times.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from itertools import cycle
from pathlib import Path

import pandas as pd

from benchmarks.performance.audits import audited
from benchmarks.performance.files import small_jpeg

ROOT = Path(__file__).parents[1]
PLACES = (ROOT.parent / "shared" / "hostile", ROOT / "fixtures" / "hostile")
A_FOLDER, ONE_IN = 1_000, 100


def fill(dump: Path, files: int, hostile: list[bytes]) -> None:
    """The dump; without hostile files all are good."""
    bad = cycle(hostile)
    for number in range(files):
        folder = dump / f"{100 + number // A_FOLDER}TARNA"
        folder.mkdir(parents=True, exist_ok=True)
        spoilt = bool(hostile) and number % ONE_IN == 0
        data = next(bad) if spoilt else small_jpeg(number, small=True)
        (folder / f"TARN{number % 9999 + 1:04d}.JPG").write_bytes(data)


def counts(run: Path) -> str:
    """What a run says of its files, and whether it adds up."""
    frames = pd.read_parquet(run / "frames.parquet", columns=["files", "problem"])
    told = json.loads((run / "findings.json").read_text(encoding="utf-8"))["counts"]
    in_rows, passed, seen = int(frames["files"].map(len).sum()), told["files_passed_over"], told["files_seen"]
    unread, verdict = int(frames["problem"].notna().sum()), "adds up"
    if in_rows + passed != seen:
        verdict = "DOES NOT ADD UP"
    return f"{seen:,} files = {in_rows:,} in frames ({unread:,} unread) + {passed:,} passed over: {verdict}"


def main(files: int, place: Path) -> None:
    """Fills, audits, compares."""
    hostile = [path.read_bytes() for path in sorted(place.iterdir()) if path.is_file()]
    took = {}
    with tempfile.TemporaryDirectory() as top:
        for name, bad in (("good", []), ("hostile", hostile)):
            dump, out = Path(top) / name, Path(top) / f"out-{name}"
            fill(dump, files, bad)
            began_s = time.perf_counter()
            peak = audited(dump, out, "--pixels", "off", "--no-cache")
            took[name] = time.perf_counter() - began_s
            run = next(path for path in out.iterdir() if path.name.startswith("run-"))
            print(f"{name}: {took[name]:.0f} s, peak {peak:.0f} MB; {counts(run)}", flush=True)
    print(f"with hostile files {took['hostile'] / took['good']:.2f} times the time without")


if __name__ == "__main__":
    usual = next((path for path in PLACES if path.is_dir()), PLACES[-1])
    main(int((sys.argv[1:2] or [100_000])[0]), Path((sys.argv[2:3] or [usual])[0]))
