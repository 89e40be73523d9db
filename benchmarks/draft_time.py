"""Processor time of a draft by its steps, on tables of the second test world: setups, estimate, spans.

    python -m benchmarks.draft_time [FRAMES ...] [--against TREE] [--rounds N]

With `--against` another working copy of the project (an earlier commit) does the same in turns with this one,
each time in a process of its own, so that both see the same machine.
"""

from __future__ import annotations

import argparse
import json
import os
import pickle
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pandas as pd

HERE = Path(__file__).parents[1]
SEED = 30_000
KIND_DAYS = 30
"""So many days lie between two trips."""


def written(frames: int, place: Path) -> Path:
    """A table of so many frames of ordinary trips with the full kit, before scenes and setups."""
    from audit.declare import add_gear, join
    from audit.scan.frames import frame_table
    from benchmarks.world.run import loaded
    from benchmarks.world.trip import trip

    rows: list[dict[str, object]] = []
    kit_toml, seed = "", SEED
    while len(rows) < frames:
        world = trip(seed, "ordinary")
        seed += 1
        if world.bag.kit != "full":
            continue
        kit_toml = kit_toml or world.kit_toml
        for row in world.scan_rows:
            frame = f"t{seed}/{row['frame']}"
            later = pd.Timedelta(days=KIND_DAYS * (seed - SEED))
            at = None if row["captured_at"] is None else row["captured_at"] + later
            rows.append({**row, "frame": frame, "folder": f"t{seed}/{row['folder']}", "captured_at": at})
    kit = loaded(kit_toml, {}).kit
    table = join(add_gear(frame_table(rows[:frames]), kit), kit, ()).frames
    path = place / f"{frames}.pickle"
    path.write_bytes(pickle.dumps((table, kit)))
    return path


def timed(path: Path) -> dict[str, float]:
    """Seconds of each step."""
    from audit.declare.draft import draft
    from audit.exposure.estimate import add_estimate
    from audit.exposure.scenes import add_scenes
    from audit.exposure.setups import add_setups
    from audit.exposure.sun import add_sky

    frames, kit = pickle.loads(path.read_bytes())  # written by this script a moment ago
    took: dict[str, float] = {}
    start = time.process_time()
    frames = add_sky(add_setups(add_scenes(frames, kit)), kit)
    took["scenes, setups, sky"] = time.process_time() - start
    start = time.process_time()
    frames = add_estimate(frames, kit)
    took["estimate"] = time.process_time() - start
    start = time.process_time()
    draft(frames, kit, ())
    took["spans"] = time.process_time() - start
    return took


def main() -> None:
    """Prints the seconds of each step, the least of the rounds, for each tree."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.draft_time", description=__doc__)
    parser.add_argument("frames", type=int, nargs="*", default=[1_000, 10_000])
    parser.add_argument("--against", type=Path)
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        print(json.dumps(timed(asked.one)))
        return
    trees = {"this": HERE} | ({"other": asked.against} if asked.against else {})
    with tempfile.TemporaryDirectory() as place:
        for frames in asked.frames:
            path = written(frames, Path(place))
            runs = [
                (name, json.loads(_in_process(tree, path)))
                for _ in range(asked.rounds)
                for name, tree in trees.items()
            ]
            least = pd.DataFrame([took for _, took in runs]).groupby([name for name, _ in runs]).min()
            least["all"] = least.sum(axis=1)
            print(f"\n{frames} frames, seconds\n{least.round(2).to_string()}", flush=True)


def _in_process(tree: Path, path: Path) -> str:
    """What this script prints for one table with the modules of a tree."""
    told = subprocess.run(
        [sys.executable, str(Path(__file__)), "--one", str(path)],
        env=os.environ | {"PYTHONPATH": str(tree)},
        check=True,
        capture_output=True,
        text=True,
    )
    return told.stdout


if __name__ == "__main__":
    main()
