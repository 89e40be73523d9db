"""Kills an audit with -9 at random moments, and looks at what is left.

`python tests/safety/killing.py [COUNT] [SEED]` counts after how many kills the report's folder was old and
whole, or new and whole, and how often the next run was right and left nothing behind. stepwise.py stops a
command before each of its own steps; here workers are at work too, and the moment is anybody's.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from itertools import islice
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from stepwise import content, files, leftovers, pages_lead_to

COMMAND = ["audit", "card", "--kit", "kit.toml", "--out", "rep", "-q"]


def begun(work: Path) -> int:
    """A forked process that audits in a folder."""
    from audit.cli.entry import run

    child = os.fork()
    if child == 0:
        code = 99
        try:
            os.chdir(work)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            os.dup2(os.open(work.with_name("stderr"), os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
            code = run(COMMAND)
        finally:
            os._exit(code)
    return child


def ended(child: int) -> int:
    """Its exit code, less than 0 where it was killed."""
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def workers() -> list[int]:
    """Processes of ours whose parent is gone."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            said = (place / "cmdline").read_bytes()
            above = int((place / "stat").read_bytes().rpartition(b")")[2].split()[1])
            mine = (place / "environ").read_bytes()
        except (OSError, IndexError):
            continue
        if above == 1 and b"audit.crew" in said and f"TMPDIR={tempfile.gettempdir()}".encode() in mine:
            found.append(int(place.name))
    return found


def wrong(work: Path, known: list[object], owner: dict[str, str]) -> list[str]:
    """What is neither old and whole nor new and whole."""
    out, found = work / "rep", []
    if content(out) not in known:
        found.append("newest is neither the old nor the new run")
    page = pages_lead_to(out)
    if page is None or page.parent != (out / "newest").resolve():
        found.append("report.html and newest lead to different places")
    now = files(work)
    return found + [f"{name} is not as it was" for name, digest in owner.items() if now.get(name) != digest]


def ready(folder: Path) -> Path:
    """A work folder with twelve pictures, a kit, and a report of eleven of them."""
    from audit.demo import trip_files
    from audit.demo.kit_file import KIT

    work = folder / "work"
    for name in ("work/card", "tmp", "cache", "config"):
        (folder / name).mkdir(parents=True)
    os.environ |= {"XDG_CACHE_HOME": f"{folder}/cache", "XDG_CONFIG_HOME": f"{folder}/config"}
    os.environ["TMPDIR"] = tempfile.tempdir = f"{folder}/tmp"
    (work / "kit.toml").write_text(KIT, encoding="utf-8")
    jpegs = (data for name, data in trip_files(small=True) if name.endswith(".JPG"))
    for number, data in enumerate(islice(jpegs, 12), start=76):
        (work / "card" / f"TARN{number:04d}.JPG").write_bytes(data)
    last = work / "card" / "TARN0087.JPG"
    last.rename(work / "away.JPG")
    assert ended(begun(work)) in (0, 1), work.with_name("stderr").read_text()
    (work / "away.JPG").rename(last)
    shutil.copytree(work, folder / "before", symlinks=True)
    return work


def main(count: int, seed: int) -> int:
    """Kills `count` audits; the number of faults."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        work = ready(folder)
        owner = {name: digest for name, digest in files(work).items() if not name.startswith("rep/")}
        old, began = content(work / "rep"), time.monotonic()
        assert ended(begun(work)) in (0, 1), work.with_name("stderr").read_text()
        whole_s, new = time.monotonic() - began, content(work / "rep")
        told, chance, faults = Counter[str](), random.Random(seed), 0
        while told["killed"] < count:
            shutil.rmtree(work)
            shutil.copytree(folder / "before", work, symlinks=True)
            if told["killed"] % 2:  # every other time nothing is known of the pictures either
                shutil.rmtree(folder / "cache", ignore_errors=True)
            after_s = chance.uniform(0, whole_s)
            child = begun(work)
            time.sleep(after_s)
            os.kill(child, signal.SIGKILL)
            if ended(child) >= 0:
                told["had ended"] += 1
                continue
            said = wrong(work, [old, new], owner)
            told["killed"] += 1
            told["old and whole" if content(work / "rep") == old else "new and whole"] += not said
            told["left something"] += bool(leftovers(work))
            code = ended(begun(work))
            said += [] if code in (0, 1) else [f"the next run ended with {code}"]
            said += [f"next: {w}" for w in wrong(work, [new], owner)]
            said += [f"next: left {path}" for path in (*leftovers(work), *(folder / "tmp").iterdir())]
            told["next run right, nothing left"] += not said
            faults += bool(said)
            for line in said:
                sys.stdout.write(f"after {after_s:.2f} s of {whole_s:.2f} s: {line}\n")
        time.sleep(2)
        told["workers without a parent"] = len(workers())
        sys.stdout.write(f"seed {seed}: " + ", ".join(f"{n} {words}" for words, n in told.items()) + "\n")
        return faults


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    sys.exit(bool(main(*(given + [100, 7][len(given) :]))))
