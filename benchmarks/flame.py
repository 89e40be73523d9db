"""Where an audit of many small declared JPEGs spends its time, as a picture of each state of the program.

    python -m benchmarks.flame before=/tmp/older after=. [--frames N] [--into docs]

Each NAME=TREE is a checkout, audited by this interpreter with its own `audit`; flame-NAME.svg is its picture.
Pixels are off, nothing is kept, files are read in the process itself: so all there is to see is seen. The
first audit of each, on fewer frames, warms up what the system keeps of files and does not count.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.flame_picture import Box, drawn, picture
from benchmarks.performance.files import dump

ROOT = Path(__file__).parents[1]
SAMPLED = ROOT / "benchmarks" / "sampled.py"
LOADED, LINE = "loading of the program", "command line"
MOST_BOXES, LEAST_SHARE = 150, 0.003

Looks = list[tuple[list[str], float]]


def looked_at(tree: Path, trip: Path, place: Path) -> Looks:
    """Stacks of an audit of `trip` by the program in `tree`, and the seconds of each."""
    told = place / "looks.json"
    words = ["audit", str(trip), "--out", str(place / f"out-{tree.name}"), "--pixels", "off", "--no-cache"]
    done = subprocess.run(
        [sys.executable, "-P", str(SAMPLED), str(told), *words, "--quiet"],
        env=os.environ | {"PYTHONPATH": str(tree)},
        capture_output=True,
        text=True,
    )
    if done.returncode not in (0, 1):
        raise RuntimeError(done.stderr)
    return [(stack, seconds) for stack, seconds in json.loads(told.read_text(encoding="utf-8"))]


def merged(looks: Looks) -> Box:
    """One box for all, in it one for each function that was called, in the order in which they began."""
    root = Box("cornerstop audit")
    for stack, seconds in looks:
        root.seconds += seconds
        box = root
        for name in _told(stack):
            box = box.inner.setdefault(name, Box(name))
            box.seconds += seconds
    return root


def _told(stack: list[str]) -> list[str]:
    """Functions as the picture names them: without the room of all, the command line, what loads a module."""
    while stack and stack[0].startswith(("audit.cli", "audit.start")):
        if stack[0].endswith(".<module>") or len(stack) == 1:
            return [LOADED if stack[0].endswith(".<module>") else LINE]
        stack = stack[1:]
    names = [name.removeprefix("audit.") for name in stack]
    loads = next((n for n, name in enumerate(names) if name.endswith(".<module>")), len(names))
    # wherever a module is first needed: its loading is the same for a trip of any length
    return [LOADED] if loads < len(names) else names


def trimmed(root: Box) -> Box:
    """Without boxes too narrow to see, and with those joined that hardly do more than call the next."""
    least = LEAST_SHARE
    while (found := drawn(root, least)).count() > MOST_BOXES:
        least *= 1.15
    return found


def main() -> None:
    """Reads the command line, audits, draws."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trees", nargs="+", metavar="NAME=TREE")
    parser.add_argument("--frames", type=int, default=10_000)
    parser.add_argument("--into", type=Path, default=ROOT / "docs")
    asked = parser.parse_args()
    trees = {name: Path(tree).resolve() for name, _, tree in (one.partition("=") for one in asked.trees)}
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        first, trip = dump(place / "first", 100), dump(place / "trip", asked.frames)
        found = {}
        for name, tree in trees.items():
            looked_at(tree, first, place)
            found[name] = merged(looked_at(tree, trip, place))
    longest_s = max(root.seconds for root in found.values())
    for name, root in found.items():
        wide = [one for one in root.inner.values() if one.seconds >= LEAST_SHARE * root.seconds]
        shares = ", ".join(f"{one.name} {one.seconds / root.seconds:.1%}" for one in wide)
        print(f"{name}: {root.seconds:.1f} s of processor time; {shares}")
        text = picture(trimmed(root), name, asked.frames, longest_s)
        (asked.into / f"flame-{name}.svg").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
