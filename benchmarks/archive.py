"""What an archive costs beside `cp` and `sha512sum`, and a look at it beside `sha512sum -c` and bagit-python.

    python benchmarks/archive.py [FOLDER] [GB] [TRIES]

GB (2) of random bytes in files of 25 MB lie in FOLDER, with room for three times as much (default: a
temporary folder). All run in turn, TRIES times (3), so that a busy machine is busy for each; told are ratios
of the medians. A copy is timed until the disk holds it: `cp` is followed by `sync`, an archive syncs each
file itself. What is read was just written; a verification of ours drops it from memory first, as far as the
system lets it, the others read what is still there. Starting Python and the report are in it.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

FILE_BYTES = 25_000_000
AUDIT = [sys.executable, "-m", "audit"]


def fill(card: Path, gigabytes: float) -> None:
    """The files."""
    card.mkdir()
    for number in range(max(1, round(gigabytes * 1e9 / FILE_BYTES))):
        (card / f"FILM{number:04d}.MOV").write_bytes(os.urandom(FILE_BYTES))


def run(*words: object, folder: Path | None = None) -> None:
    """A command."""
    subprocess.run([str(word) for word in words], cwd=folder, check=True, stdout=subprocess.DEVNULL)


def timed(act: Callable[[], object]) -> float:
    """Seconds."""
    start = time.perf_counter()
    act()
    return time.perf_counter() - start


def copied(card: Path, plain: Path) -> None:
    """cp, the disk, and a digest of each file of the card."""
    run("cp", "-r", card, plain)
    run("sync", "-f", plain)
    run("sh", "-c", "sha512sum * > ../sums", folder=card)


def one_round(room: Path, card: Path) -> dict[str, float]:
    """Seconds of each, once."""
    plain, bag = room / "plain", room / "bag"
    archive = [*AUDIT, "archive", card, bag, "--pixels", "off", "-q"]
    times = {"cp + sync + sha512sum": timed(lambda: copied(card, plain))}
    shutil.rmtree(plain)
    times["archive --no-readback"] = timed(lambda: run(*archive, "--no-readback"))
    for path in (bag, *room.glob("bag.*")):
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    times["archive"] = timed(lambda: run(*archive))
    check = ["sha512sum", "--quiet", "-c", "manifest-sha512.txt"]
    times["sha512sum -c"] = timed(lambda: run(*check, folder=bag))
    times["verify"] = timed(lambda: run(*AUDIT, "verify", bag, "-q"))
    code = f"import bagit; bagit.Bag({str(bag)!r}).validate(processes=1)"
    times["bagit-python"] = timed(lambda: run(sys.executable, "-c", code))
    for path in (bag, *room.glob("bag.*")):
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    return times


def main() -> None:
    """All of it."""
    words = sys.argv[1:]
    gigabytes, tries = float((words[1:] or ["2"])[0]), int((words[2:] or ["3"])[0])
    with tempfile.TemporaryDirectory(dir=words[0] if words else None) as folder:
        room = Path(folder)
        fill(room / "card", gigabytes)
        rounds = []
        for _ in range(tries):
            rounds.append(one_round(room, room / "card"))
            sys.stdout.write("  ".join(f"{name}: {s:.1f} s" for name, s in rounds[-1].items()) + "\n")
            sys.stdout.flush()
    of = {name: statistics.median(each[name] for each in rounds) for name in rounds[0]}
    for name, beside in (
        ("archive --no-readback", "cp + sync + sha512sum"),
        ("archive", "cp + sync + sha512sum"),
        ("verify", "sha512sum -c"),
        ("verify", "bagit-python"),
    ):
        sys.stdout.write(f"{name} / {beside}: {of[name] / of[beside]:.2f}\n")


if __name__ == "__main__":
    main()
